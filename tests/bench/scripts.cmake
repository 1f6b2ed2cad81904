# Programs that judge the thermometer on series; docs/thermometer.md says how. They are no tests by themselves.
foreach(program thermometer_table dense_points)
  add_executable(${program} ${CMAKE_CURRENT_LIST_DIR}/${program}.cpp)
  target_include_directories(${program} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR})
  target_link_libraries(${program} PRIVATE sumplog_core)
endforeach()
