# SUNDIALS CVODE as a second solver, with a right-hand side of its own.
find_package(SUNDIALS QUIET COMPONENTS cvode nvecserial)
if(SUNDIALS_FOUND)
  add_library(ambo_cvode_layer STATIC ../support/cvode_layer.c)
  target_link_libraries(ambo_cvode_layer PUBLIC ambo_flags
    SUNDIALS::cvode SUNDIALS::nvecserial m)
  ambo_test(test_cvode_cure peers test_cvode_cure.c ambo_casting ambo_cvode_layer)
else()
  message(STATUS "SUNDIALS is missing (package libsundials-dev): the heat is not compared with it")
  add_test(NAME test_cvode_cure COMMAND ${CMAKE_COMMAND} -E echo
    "skip: SUNDIALS is missing, install libsundials-dev")
  set_tests_properties(test_cvode_cure PROPERTIES LABELS peers
    SKIP_REGULAR_EXPRESSION "skip:")
endif()
