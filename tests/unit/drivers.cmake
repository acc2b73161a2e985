# Unit tests of drivers.
ambo_test(test_options unit test_options.c ambo_drivers)
ambo_test(test_trace unit test_trace.c ambo_drivers)
ambo_test(test_replay unit test_replay.c ambo_drivers)
ambo_test(test_bench unit test_bench.c ambo_drivers)
ambo_test(test_simulated unit test_simulated.c ambo_drivers)
foreach(name test_options test_trace test_replay test_bench test_simulated)
  target_compile_definitions(${name} PRIVATE _POSIX_C_SOURCE=200809L)
endforeach()
