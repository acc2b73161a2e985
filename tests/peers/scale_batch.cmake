# A whole batch through the real ambod over each driver, with a fault of each kind on the way.
ambo_script(test_modbus_tcp_batch peers test_modbus_batch.py Batch.test_over_tcp)
ambo_script(test_modbus_rtu_batch peers test_modbus_batch.py Batch.test_over_a_serial_line)

if(LIBGPIOD_VERSION VERSION_GREATER_EQUAL 2)
  set(fake fake_gpiod_v2.c)
else()
  set(fake fake_gpiod_v1.c)
endif()
find_package(Threads REQUIRED)
add_library(chip_preload MODULE chip_preload.c
  ${PROJECT_SOURCE_DIR}/tests/support/hx711_chip.c
  ${PROJECT_SOURCE_DIR}/tests/support/fake_gpiod.c
  ${PROJECT_SOURCE_DIR}/tests/support/${fake})
set_target_properties(chip_preload PROPERTIES
  LIBRARY_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/lib POSITION_INDEPENDENT_CODE ON)
target_compile_definitions(chip_preload PRIVATE _POSIX_C_SOURCE=200809L)
target_include_directories(chip_preload PRIVATE ${LIBGPIOD_INCLUDE_DIRS})
target_link_libraries(chip_preload PRIVATE ambo_flags Threads::Threads)
ambo_script(test_hx711_batch peers test_hx711_batch.py Batch.test_at_80_per_s)
ambo_script(test_hx711_slow_batch peers test_hx711_batch.py Batch.test_at_10_per_s)
