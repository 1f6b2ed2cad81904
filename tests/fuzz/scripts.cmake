# The fuzz targets as ordinary functions, and rounds of the fuzzer itself: docs/hardening.md.
file(GLOB fuzz_sources CONFIGURE_DEPENDS ${CMAKE_CURRENT_LIST_DIR}/*.cpp)
list(FILTER fuzz_sources EXCLUDE REGEX "/driver\\.cpp$")
add_executable(fuzz_inputs ${fuzz_sources})
target_include_directories(fuzz_inputs PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
target_link_libraries(fuzz_inputs PRIVATE sumplog_app nlohmann_json::nlohmann_json GTest::gtest GTest::gtest_main)
target_compile_definitions(fuzz_inputs PRIVATE SUMPLOG_SOURCE="${CMAKE_SOURCE_DIR}")
target_compile_options(fuzz_inputs PRIVATE -O0 -g1)

set(fuzz_corpora ${CMAKE_BINARY_DIR}/fuzz_corpora)
sumplog_script_test(fuzz_corpora core 60 python3 -B ${CMAKE_CURRENT_LIST_DIR}/make_corpora.py ${fuzz_corpora})
add_test(NAME fuzz_inputs COMMAND fuzz_inputs)
set_tests_properties(fuzz_corpora PROPERTIES FIXTURES_SETUP fuzz_corpora)
set_tests_properties(fuzz_inputs PROPERTIES LABELS core TIMEOUT 300 FIXTURES_REQUIRED fuzz_corpora
  ENVIRONMENT "SUMPLOG_FUZZ_CORPORA=${fuzz_corpora}")

sumplog_script_test(fuzz_short fuzz-short 1800 bash ${CMAKE_CURRENT_LIST_DIR}/run.sh 5)
sumplog_script_test(fuzz_minute fuzz 5400 bash ${CMAKE_CURRENT_LIST_DIR}/run.sh 60)
set_tests_properties(fuzz_short fuzz_minute PROPERTIES RUN_SERIAL TRUE)
