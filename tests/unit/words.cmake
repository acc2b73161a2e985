# The output tests write into memory (open_memstream is POSIX).
ambo_test(test_words unit test_words.c ambo_words)
ambo_test(test_output unit test_output.c ambo_terminal)
ambo_test(test_dict unit test_dict.c ambo_terminal)
ambo_test(test_args unit test_args.c ambo_terminal)
ambo_test(test_mix_screen unit test_mix_screen.c ambo_terminal)
target_compile_definitions(test_output PRIVATE _POSIX_C_SOURCE=200809L)
target_compile_definitions(test_mix_screen PRIVATE _POSIX_C_SOURCE=200809L)
target_compile_definitions(test_dict PRIVATE _POSIX_C_SOURCE=200809L)
