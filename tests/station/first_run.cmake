# The display's first run and what is done at the bench beside mixing, in real windows.
foreach(name first_run display_bench)
  ambo_script(test_${name} station test_${name}.py)
  set_property(TEST test_${name} APPEND PROPERTY
    ENVIRONMENT "AMBO_CATALOGUES=${PROJECT_BINARY_DIR}/display/po"
                "AMBO_SHOTS=${CMAKE_CURRENT_BINARY_DIR}/shots")
  set_tests_properties(test_${name} PROPERTIES TIMEOUT 1200)
endforeach()
