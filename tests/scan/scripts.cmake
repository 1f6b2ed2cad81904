# The scenarios of a code scan, recorded and read by scapy and tshark.
add_executable(record_of ${CMAKE_CURRENT_LIST_DIR}/record_of.cpp)
target_link_libraries(record_of PRIVATE sumplog_core)
file(GLOB scan_scenarios CONFIGURE_DEPENDS ${CMAKE_CURRENT_LIST_DIR}/*.toml)
sumplog_script_test(scan_codes_against_scapy reference 120 /usr/bin/python3 -B ${CMAKE_CURRENT_LIST_DIR}/codes_against_scapy.py
                    $<TARGET_FILE:record_of> 90 ${scan_scenarios})
sumplog_script_test(scan_codes_against_tshark reference 120 /usr/bin/python3 -B ${CMAKE_CURRENT_LIST_DIR}/codes_against_tshark.py
                    $<TARGET_FILE:record_of> 40 ${scan_scenarios})
