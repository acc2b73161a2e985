# Unit tests of pieces: planning, describing, pouring and keeping them.
add_library(ambo_piece_case STATIC ../support/piece_case.c)
target_link_libraries(ambo_piece_case PUBLIC ambo_casting ambo_test_support)
ambo_test(test_plan unit test_plan.c ambo_piece_case)
ambo_test(test_plan_calendar unit test_plan_calendar.c ambo_piece_case)
ambo_test(test_poured unit test_poured.c ambo_piece_case)
ambo_test(test_piece_file unit test_piece_file.c ambo_config)
target_compile_definitions(test_piece_file PRIVATE AMBO_TOP="${PROJECT_SOURCE_DIR}")
ambo_test(test_store_pieces unit test_store_pieces.c ambo_records_support)
