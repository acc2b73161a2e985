# Unit tests of weighing.
ambo_test(test_fit unit test_fit.c ambo_weighing)
ambo_test(test_recorded_calibration unit test_recorded_calibration.c ambo_weighing)
ambo_test(test_stats unit test_stats.c ambo_weighing)
ambo_test(test_limits unit test_limits.c ambo_weighing)
ambo_test(test_uncertainty unit test_uncertainty.c ambo_weighing ambo_mixing)
ambo_test(test_spike_gate unit test_spike_gate.c ambo_weighing)
ambo_test(test_tracker unit test_tracker.c ambo_weighing)
ambo_test(test_settling unit test_settling.c ambo_weighing ambo_weighing_scene)
