# Unit tests of the Modbus driver's parts.
ambo_test(test_modbus_frame unit test_modbus_frame.c ambo_drivers)
ambo_test(test_modbus_map unit test_modbus_map.c ambo_drivers)
ambo_test(test_modbus_config unit test_modbus_config.c ambo_drivers)
ambo_test(test_modbus_late unit test_modbus_late.c ambo_drivers)
target_compile_definitions(test_modbus_config PRIVATE _XOPEN_SOURCE=700 _DEFAULT_SOURCE)
