# The sound of the display.
add_library(ambo_sound_support STATIC ${PROJECT_SOURCE_DIR}/tests/support/listen.c)
target_link_libraries(ambo_sound_support PUBLIC ambo_sound)
foreach(name cues synth reaction speech)
  ambo_test(test_${name} unit test_${name}.c ambo_sound_support)
endforeach()
ambo_test(test_audio unit test_audio.c ambo_audio ambo_sound_support)
# mkdtemp(), nanosleep() and setenv() are POSIX.
target_compile_definitions(test_speech PRIVATE _POSIX_C_SOURCE=200809L)
target_compile_definitions(test_audio PRIVATE _POSIX_C_SOURCE=200809L)
# The person at the bench, led by the cues.
add_library(ambo_cue_pour STATIC ${PROJECT_SOURCE_DIR}/tests/support/cue_pour.c)
target_link_libraries(ambo_cue_pour PUBLIC ambo_sound ambo_guide_script ambo_weighing ambo_drivers)
ambo_test(test_cue_pour unit test_cue_pour.c ambo_cue_pour)
