# The touch display in real windows under Xvfb.
find_program(AMBO_XVFB Xvfb REQUIRED)
find_program(AMBO_XDOTOOL xdotool REQUIRED)
# Eyes and ears for them.
pkg_check_modules(CAIRO REQUIRED IMPORTED_TARGET cairo)
add_executable(compare_pictures ${PROJECT_SOURCE_DIR}/tests/support/compare_pictures.c)
target_link_libraries(compare_pictures PRIVATE ambo_flags PkgConfig::CAIRO)
add_executable(hear ${PROJECT_SOURCE_DIR}/tests/support/hear.c)
target_link_libraries(hear PRIVATE ambo_sound_support ambo_flags m)
function(ambo_window name timeout_s)
  ambo_script(test_${name} station test_${name}.py)
  set_property(TEST test_${name} APPEND PROPERTY
    ENVIRONMENT "AMBO_CATALOGUES=${PROJECT_BINARY_DIR}/display/po"
                "AMBO_SHOTS=${CMAKE_CURRENT_BINARY_DIR}/shots")
  set_tests_properties(test_${name} PROPERTIES TIMEOUT ${timeout_s})
endfunction()
foreach(name display display_sound display_bus display_random)
  ambo_window(${name} 1200)
endforeach()
# The first run, and what is done at the bench beside mixing.
foreach(name first_run display_bench)
  ambo_window(${name} 1200)
endforeach()
