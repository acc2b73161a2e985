# The touch display in real windows under Xvfb.
find_program(AMBO_XVFB Xvfb REQUIRED)
find_program(AMBO_XDOTOOL xdotool REQUIRED)
ambo_script(test_display station test_display.py)
set_property(TEST test_display APPEND PROPERTY
  ENVIRONMENT "AMBO_CATALOGUES=${PROJECT_BINARY_DIR}/display/po"
              "AMBO_SHOTS=${CMAKE_CURRENT_BINARY_DIR}/shots")
set_tests_properties(test_display PROPERTIES TIMEOUT 3600)
