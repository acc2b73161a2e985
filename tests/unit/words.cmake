# The output tests write into memory (open_memstream is POSIX).
ambo_test(test_words unit test_words.c ambo_words)
ambo_test(test_output unit test_output.c ambo_terminal)
ambo_test(test_dict unit test_dict.c ambo_terminal)
ambo_test(test_args unit test_args.c ambo_terminal)
ambo_test(test_mix_screen unit test_mix_screen.c ambo_terminal)
target_compile_definitions(test_output PRIVATE _POSIX_C_SOURCE=200809L)
target_compile_definitions(test_mix_screen PRIVATE _POSIX_C_SOURCE=200809L)
target_compile_definitions(test_dict PRIVATE _POSIX_C_SOURCE=200809L)
ambo_test(test_words_advice unit test_words_advice.c ambo_words)
ambo_test(test_words_read unit test_words_read.c ambo_words)
# What the station says against the table that reads it back.
find_program(AMBO_PYTHON NAMES python3 PATHS /usr/bin NO_DEFAULT_PATH REQUIRED)
add_test(NAME test_told COMMAND ${AMBO_PYTHON} ${CMAKE_CURRENT_SOURCE_DIR}/test_told.py)
set_tests_properties(test_told PROPERTIES LABELS unit
  ENVIRONMENT "AMBO_TOP=${PROJECT_SOURCE_DIR};PYTHONDONTWRITEBYTECODE=1")
