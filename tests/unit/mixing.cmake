# Unit tests of mixing.
ambo_test(test_system unit test_system.c ambo_mixing)
ambo_test(test_ratio unit test_ratio.c ambo_mixing)
ambo_test(test_verdict unit test_verdict.c ambo_mixing)
ambo_test(test_tint unit test_tint.c ambo_mixing)
ambo_test(test_working_life unit test_working_life.c ambo_mixing)

add_library(ambo_guide_script STATIC ../support/guide_script.c)
target_link_libraries(ambo_guide_script PUBLIC ambo_mixing ambo_test_support)
ambo_test(test_guide_batch unit test_guide_batch.c ambo_guide_script)
ambo_test(test_person_batches unit test_person_batches.c ambo_guide_script ambo_weighing ambo_drivers)
ambo_test(test_guide_charges unit test_guide_charges.c ambo_guide_script)
ambo_test(test_guide_pan unit test_guide_pan.c ambo_guide_script)
ambo_test(test_guide_text unit test_guide_text.c ambo_guide_script)
