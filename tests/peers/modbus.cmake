# Modbus against pymodbus, mbpoll and our own fault proxy. Each needs the programs
# named in modbus_peer.h and says so where one is missing.
add_library(ambo_modbus_peers STATIC
  ${PROJECT_SOURCE_DIR}/tests/support/fault_proxy.c
  ${PROJECT_SOURCE_DIR}/tests/support/modbus_peer.c)
target_compile_definitions(ambo_modbus_peers PRIVATE _GNU_SOURCE
  AMBO_MODBUS_UNIT="${PROJECT_SOURCE_DIR}/tests/peers/modbus_unit.py")
target_link_libraries(ambo_modbus_peers PUBLIC ambo_drivers ambo_test_support)

add_executable(test_modbus_faults test_modbus_faults.c)
target_link_libraries(test_modbus_faults PRIVATE ambo_modbus_peers)
foreach(link tcp rtu)
  add_test(NAME test_modbus_faults_${link} COMMAND test_modbus_faults ${link})
  set_tests_properties(test_modbus_faults_${link} PROPERTIES
    LABELS peers SKIP_RETURN_CODE 77 TIMEOUT 3600)
endforeach()
ambo_test(test_modbus_peers peers test_modbus_peers.c ambo_modbus_peers)
add_executable(modbus_middleman modbus_middleman.c)
target_link_libraries(modbus_middleman PRIVATE ambo_modbus_peers)
