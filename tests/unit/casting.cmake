# Unit tests of casting.
foreach(name cure heat)
  ambo_test(test_${name} unit test_${name}.c ambo_casting)
endforeach()
