# The heat against SUNDIALS CVODE, and the cost of a whole plan.
if(TARGET ambo_cvode_layer)
  add_executable(cure_bench cure_bench.c)
  target_compile_definitions(cure_bench PRIVATE _POSIX_C_SOURCE=200809L)
  target_link_libraries(cure_bench PRIVATE ambo_casting ambo_cvode_layer)
endif()
# All of it in one run: cmake --build build --target casting_bench
if(TARGET cure_bench)
  add_custom_target(casting_bench COMMAND cure_bench COMMAND plan_bench USES_TERMINAL)
endif()
