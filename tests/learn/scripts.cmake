# How often the fluid temperature is found on made-up cars: docs/learn.md. A few cars among the default tests, 200 under the
# label bench.
file(GLOB learn_sources CONFIGURE_DEPENDS ${CMAKE_CURRENT_LIST_DIR}/*.cpp)
add_executable(learn_tests ${learn_sources})
target_include_directories(learn_tests PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
target_link_libraries(learn_tests PRIVATE sumplog_core GTest::gtest GTest::gtest_main)
if(CMAKE_BUILD_TYPE STREQUAL Debug)
  set(learn_cars 2)
else()
  set(learn_cars 10)
endif()
add_test(NAME learn_on_made_up_cars COMMAND learn_tests)
set_tests_properties(learn_on_made_up_cars PROPERTIES LABELS learn TIMEOUT 600
  ENVIRONMENT "SUMPLOG_CARS_FIRST=1001;SUMPLOG_CARS_COUNT=${learn_cars}")
add_test(NAME learn_on_200_made_up_cars COMMAND learn_tests)
set_tests_properties(learn_on_200_made_up_cars PROPERTIES LABELS bench TIMEOUT 3600
  ENVIRONMENT "SUMPLOG_CARS_FIRST=1001;SUMPLOG_CARS_COUNT=200")
