# Whole jobs on a hostile bus in virtual time: docs/hostile_bus.md. Several tests, so that all processors have work.
add_executable(hostile_tests ${CMAKE_CURRENT_LIST_DIR}/seeds_test.cpp ${CMAKE_CURRENT_LIST_DIR}/core_memory.cpp)
target_include_directories(hostile_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
target_link_libraries(hostile_tests PRIVATE sumplog_core GTest::gtest GTest::gtest_main)
target_compile_definitions(hostile_tests PRIVATE SUMPLOG_SOURCE="${CMAKE_SOURCE_DIR}")

# The slow builds (checks on, sanitizers) try fewer seeds.
if(CMAKE_BUILD_TYPE STREQUAL Debug)
  set(hostile_seeds 160)
else()
  set(hostile_seeds 2000)
endif()
set(SUMPLOG_HOSTILE_SEEDS ${hostile_seeds} CACHE STRING "hostile seeds in the default tests")
set(SUMPLOG_HOSTILE_SEEDS_LONG 20000 CACHE STRING "hostile seeds under the label long")

# Seeds 1 to `seeds` in `parts` tests.
function(sumplog_hostile_tests name label seeds parts timeout)
  math(EXPR each "(${seeds} + ${parts} - 1) / ${parts}")
  foreach(part RANGE 1 ${parts})
    math(EXPR first "(${part} - 1) * ${each} + 1")
    add_test(NAME ${name}_${part} COMMAND hostile_tests)
    set_tests_properties(${name}_${part} PROPERTIES LABELS ${label} TIMEOUT ${timeout}
      ENVIRONMENT "SUMPLOG_HOSTILE_FIRST=${first};SUMPLOG_HOSTILE_COUNT=${each}")
  endforeach()
endfunction()
sumplog_hostile_tests(hostile_seeds hostile ${SUMPLOG_HOSTILE_SEEDS} 8 600)
sumplog_hostile_tests(hostile_seeds_long long ${SUMPLOG_HOSTILE_SEEDS_LONG} 20 3600)
