# Unit tests of records.
pkg_check_modules(SQLITE REQUIRED IMPORTED_TARGET sqlite3)
pkg_check_modules(LIBMD REQUIRED IMPORTED_TARGET libmd)

add_library(ambo_records_support STATIC
  ../support/batch_guide.c
  ../support/power_cut_vfs.c
  ../support/temp_folder.c
)
target_compile_definitions(ambo_records_support PUBLIC _GNU_SOURCE)
target_link_libraries(ambo_records_support PUBLIC
  ambo_test_support ambo_records PkgConfig::SQLITE PkgConfig::LIBMD)

ambo_test(test_canonical unit test_canonical.c ambo_records_support)
ambo_test(test_chain unit test_chain.c ambo_records_support)
ambo_test(test_inputs unit test_inputs.c ambo_records_support)
ambo_test(test_photos unit test_photos.c ambo_records_support)
ambo_test(test_power_cut unit test_power_cut.c ambo_records_support)
ambo_test(test_store_thread unit test_store_thread.c ambo_records_support)
ambo_test(test_migrate unit test_migrate.c ambo_records_support)
ambo_test(test_store unit test_store.c ambo_records_support)
ambo_test(test_store_scale unit test_store_scale.c ambo_records_support)
