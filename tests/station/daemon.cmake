# The daemon as a real process on a bus of its own.
ambo_script(test_bus station test_bus.py)
ambo_script(test_replay_batch station test_replay.py)
ambo_script(test_notify station test_notify.py)
ambo_script(test_store_on_disk station test_store.py)
ambo_script(test_kill station test_kill.py)
ambo_script(test_systemd station test_systemd.py)
ambo_script(test_batches station test_batches.py)
ambo_script(test_pieces station test_pieces.py)
ambo_script(test_sensors station test_sensors.py)
ambo_script(test_calibrate station test_calibrate.py Calibrate)
ambo_script(test_check station test_calibrate.py Check Health)
ambo_script(test_enter_system station test_enter_system.py)
ambo_script(test_calibrate_terminal station test_calibrate.py Terminal)
# The bench's wires, on files where the machine has none: see tests/support/stand_in.c.
if(LIBGPIOD_VERSION VERSION_LESS 2)
  add_library(ambo_stand_in MODULE
    ${PROJECT_SOURCE_DIR}/tests/support/stand_in.c
    ${PROJECT_SOURCE_DIR}/tests/support/hx711_chip.c)
  target_include_directories(ambo_stand_in PRIVATE ${LIBGPIOD_INCLUDE_DIRS})
  target_link_libraries(ambo_stand_in PRIVATE ambo_flags)
  set_target_properties(ambo_stand_in PROPERTIES
    PREFIX "" OUTPUT_NAME stand_in LIBRARY_OUTPUT_DIRECTORY ${CMAKE_RUNTIME_OUTPUT_DIRECTORY})
endif()
ambo_script(test_resting station test_resting.py)
ambo_script(test_uncalibrated station test_uncalibrated.py)
ambo_script(test_panel_station station test_panel.py Panel)
ambo_script(test_codes_station station test_panel.py Codes NoPanel)
ambo_script(test_bottles station test_bottles.py)
