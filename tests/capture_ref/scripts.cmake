# Our capture readers and writers beside other programs' on the same frames.
add_executable(frames_of ${CMAKE_CURRENT_LIST_DIR}/frames_of.cpp)
target_link_libraries(frames_of PRIVATE sumplog_core)
# Debian's modules belong to /usr/bin/python3; another python3 may come first in PATH.
foreach(peer tshark python_can can_utils)
  sumplog_script_test(capture_ref_${peer} capture_ref 120
    /usr/bin/python3 -B ${CMAKE_CURRENT_LIST_DIR}/against_${peer}.py $<TARGET_FILE:frames_of>)
endforeach()
