# With SUMPLOG_FUZZ: one libFuzzer program for each *_target.cpp. Only what the targets reach is built.
file(GLOB targets CONFIGURE_DEPENDS ${CMAKE_CURRENT_LIST_DIR}/*_target.cpp)
add_library(fuzz_checks STATIC ${CMAKE_CURRENT_LIST_DIR}/target.cpp ${CMAKE_CURRENT_LIST_DIR}/reading_check.cpp
  ${CMAKE_CURRENT_LIST_DIR}/flow_check.cpp ${CMAKE_CURRENT_LIST_DIR}/job_script.cpp)
target_include_directories(fuzz_checks PUBLIC tests ${CMAKE_CURRENT_LIST_DIR}/..)
target_link_libraries(fuzz_checks PUBLIC sumplog_core nlohmann_json::nlohmann_json)
target_compile_definitions(fuzz_checks PUBLIC SUMPLOG_SOURCE="${CMAKE_SOURCE_DIR}")

# The web without what it is wired to: SOCI, the log and the commands stay out.
add_library(fuzz_web STATIC src/app/web_contract.cpp src/app/page_routes.cpp src/io/web_message.cpp src/io/web_access.cpp
  src/io/base64.cpp src/io/asio_separate.cpp src/io/beast_separate.cpp)
target_compile_definitions(fuzz_web PUBLIC BOOST_ASIO_SEPARATE_COMPILATION BOOST_ASIO_NO_DEPRECATED
  BOOST_BEAST_SEPARATE_COMPILATION)
target_link_libraries(fuzz_web PUBLIC fuzz_checks sumplog_page Threads::Threads PRIVATE PkgConfig::CRYPTO)

add_custom_target(fuzz)
foreach(source ${targets})
  get_filename_component(name ${source} NAME_WE)
  string(REPLACE "_target" "" name ${name})
  add_executable(fuzz_${name} EXCLUDE_FROM_ALL ${source} ${CMAKE_CURRENT_LIST_DIR}/driver.cpp)
  target_link_libraries(fuzz_${name} PRIVATE fuzz_checks)
  if(name MATCHES "^http")
    target_link_libraries(fuzz_${name} PRIVATE fuzz_web)
  endif()
  target_link_options(fuzz_${name} PRIVATE -fsanitize=fuzzer)
  add_dependencies(fuzz fuzz_${name})
endforeach()
