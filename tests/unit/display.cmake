# The display: all of it but the window and the bus.
add_library(ambo_display_support STATIC ${PROJECT_SOURCE_DIR}/tests/support/display_states.c)
target_link_libraries(ambo_display_support PUBLIC ambo_touch)
target_compile_definitions(ambo_display_support PRIVATE _DEFAULT_SOURCE
  AMBO_TEST_DATA="${PROJECT_SOURCE_DIR}/tests/data")
foreach(name palette beam touch layout scene model ui care settings screens painted say)
  ambo_test(test_display_${name} unit test_display_${name}.c ambo_display_support)
  target_compile_definitions(test_display_${name} PRIVATE _DEFAULT_SOURCE
    AMBO_CATALOGUES="${PROJECT_BINARY_DIR}/display/po")
  add_dependencies(test_display_${name} ambo_catalogues)
endforeach()
# What is said is what is in the catalogue's template.
add_test(NAME test_display_catalogue COMMAND sh ${PROJECT_SOURCE_DIR}/display/po/update.sh --check)
set_tests_properties(test_display_catalogue PROPERTIES LABELS unit)
