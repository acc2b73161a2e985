# Unit tests of station.
ambo_test(test_station_config unit test_station_config.c ambo_config)
target_compile_definitions(test_station_config PRIVATE _DEFAULT_SOURCE
  AMBO_TOP="${PROJECT_SOURCE_DIR}")
ambo_test(test_ring unit test_ring.c ambo_station)
ambo_test(test_timeline unit test_timeline.c ambo_station)
ambo_test(test_commit unit test_commit.c ambo_station)
ambo_test(test_elapsed unit test_elapsed.c ambo_station)
ambo_test(test_action_text unit test_action_text.c ambo_station)
ambo_test(test_panel_signal unit test_panel_signal.c ambo_station)
