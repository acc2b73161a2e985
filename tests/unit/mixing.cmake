# Unit tests of mixing.
ambo_test(test_system unit test_system.c ambo_mixing)
ambo_test(test_ratio unit test_ratio.c ambo_mixing)
ambo_test(test_verdict unit test_verdict.c ambo_mixing)
ambo_test(test_tint unit test_tint.c ambo_mixing)
ambo_test(test_working_life unit test_working_life.c ambo_mixing)
