# The display's first run and what is kept at the bench, in real windows under Xvfb.
ambo_script(test_first_run station test_first_run.py)
set_property(TEST test_first_run APPEND PROPERTY
  ENVIRONMENT "AMBO_CATALOGUES=${PROJECT_BINARY_DIR}/display/po"
              "AMBO_SHOTS=${CMAKE_CURRENT_BINARY_DIR}/shots")
set_tests_properties(test_first_run PROPERTIES TIMEOUT 1200)
