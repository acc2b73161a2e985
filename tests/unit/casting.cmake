# Unit tests of casting.
foreach(name clocks cup_label cure heat stepper)
  ambo_test(test_${name} unit test_${name}.c ambo_casting)
endforeach()
