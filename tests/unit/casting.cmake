# Unit tests of casting.
foreach(name band cavity clocks cup_label cure drying heat optical_air stepper)
  ambo_test(test_${name} unit test_${name}.c ambo_casting)
endforeach()
