# ambo_script(NAME LABEL SCRIPT [ARGUMENT...]): a Python test on a session bus of its own.
find_program(AMBO_PYTHON NAMES python3 PATHS /usr/bin NO_DEFAULT_PATH REQUIRED)
find_program(AMBO_DBUS_RUN_SESSION dbus-run-session REQUIRED)
function(ambo_script name label script)
  add_test(NAME ${name}
    COMMAND ${AMBO_DBUS_RUN_SESSION} -- ${AMBO_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/${script} ${ARGN})
  set_tests_properties(${name} PROPERTIES LABELS ${label} SKIP_RETURN_CODE 77 TIMEOUT 600
    ENVIRONMENT "AMBO_BIN=${CMAKE_RUNTIME_OUTPUT_DIRECTORY};AMBO_TOP=${PROJECT_SOURCE_DIR};PYTHONPATH=${PROJECT_SOURCE_DIR}/tests/support;PYTHONDONTWRITEBYTECODE=1;${AMBO_LEAKS}")
endfunction()

ambo_script(test_command_line station test_command_line.py)
ambo_script(test_weigh station test_weigh.py Synthetic OddTraces)
ambo_script(test_weigh_recorded station test_weigh.py Recorded)
ambo_script(test_terminal station test_terminal.py)
ambo_script(test_rehearse station test_rehearse.py)
ambo_script(test_mix station test_mix.py)
ambo_script(test_cure_command station test_cure_command.py)
ambo_script(test_plan_command station test_plan_command.py)
