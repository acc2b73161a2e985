# A whole batch through the real ambod over each driver, with a fault of each kind on the way.
ambo_script(test_modbus_tcp_batch peers test_modbus_batch.py Batch.test_over_tcp)
ambo_script(test_modbus_rtu_batch peers test_modbus_batch.py Batch.test_over_a_serial_line)
