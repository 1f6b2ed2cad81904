# Our ISO 15765-2 transport beside scapy's, on interleaved made-up traffic and on the captures.
add_executable(messages_of ${CMAKE_CURRENT_LIST_DIR}/messages_of.cpp)
target_link_libraries(messages_of PRIVATE sumplog_core)
file(GLOB isotp_ref_captures CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/captures/*/*/capture.log)
sumplog_script_test(isotp_ref_scapy_reads_the_same reference 600 /usr/bin/python3 -B
                    ${CMAKE_CURRENT_LIST_DIR}/compare_with_scapy.py $<TARGET_FILE:messages_of> ${isotp_ref_captures})
