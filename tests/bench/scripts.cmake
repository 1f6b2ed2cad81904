# Programs that judge the thermometer on series; docs/thermometer.md says how. They are no tests by themselves.
foreach(program thermometer_table dense_points)
  add_executable(${program} ${CMAKE_CURRENT_LIST_DIR}/${program}.cpp)
  target_include_directories(${program} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
  target_link_libraries(${program} PRIVATE sumplog_core)
endforeach()

# Times: of the parts, and of the whole way beside log2asc, tshark and python-can (docs/performance.md).
find_package(benchmark REQUIRED)
add_executable(parts ${CMAKE_CURRENT_LIST_DIR}/parts.cpp)
target_link_libraries(parts PRIVATE sumplog_core benchmark::benchmark)
sumplog_script_test(bench_whole_way bench 1200 python3 -B ${CMAKE_CURRENT_LIST_DIR}/whole_way.py)
