# Unit tests of the bench's wires: GPIO lines, HX711, kernel IIO, panel, code reader.
# Chip and stand-in are ahead of the library they stand in for.
if(LIBGPIOD_VERSION VERSION_GREATER_EQUAL 2)
  set(fake fake_gpiod_v2.c)
else()
  set(fake fake_gpiod_v1.c)
endif()
add_library(ambo_wires_support STATIC
  ${PROJECT_SOURCE_DIR}/tests/support/hx711_chip.c
  ${PROJECT_SOURCE_DIR}/tests/support/hx711_rig.c
)
target_link_libraries(ambo_wires_support PUBLIC ambo_flags)
add_library(ambo_fake_gpiod OBJECT
  ${PROJECT_SOURCE_DIR}/tests/support/fake_gpiod.c
  ${PROJECT_SOURCE_DIR}/tests/support/${fake})
target_include_directories(ambo_fake_gpiod PRIVATE ${LIBGPIOD_INCLUDE_DIRS})
target_link_libraries(ambo_fake_gpiod PUBLIC ambo_flags)

ambo_test(test_hx711 unit test_hx711.c ambo_wires_support ambo_drivers)
ambo_test(test_hx711_driver unit test_hx711_driver.c ambo_fake_gpiod ambo_wires_support
  ambo_drivers)
ambo_test(test_gpio_lines unit test_gpio_lines.c ambo_fake_gpiod ambo_drivers)
target_compile_definitions(test_hx711_driver PRIVATE _POSIX_C_SOURCE=200809L)
ambo_test(test_panel unit test_panel.c ambo_drivers)
ambo_test(test_gpio_panel unit test_gpio_panel.c ambo_fake_gpiod ambo_drivers)
ambo_test(test_code_keys unit test_code_keys.c ambo_drivers)
ambo_test(test_iio unit test_iio.c ambo_drivers)
target_sources(test_iio PRIVATE ${PROJECT_SOURCE_DIR}/tests/support/temp_folder.c)
target_compile_definitions(test_iio PRIVATE _XOPEN_SOURCE=700)
ambo_test(test_panel_options unit test_panel_options.c ambo_drivers)
