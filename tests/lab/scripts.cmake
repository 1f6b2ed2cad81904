# Tests on a real kernel. They keep wall time, so nothing else runs beside them.
function(sumplog_lab_test name label timeout)
  sumplog_script_test(${name} ${label} ${timeout} ${ARGN})
  set_tests_properties(${name} PROPERTIES RUN_SERIAL TRUE)
endfunction()

sumplog_lab_test(lab_frames_cross_vcan0 lab 120 bash ${CMAKE_CURRENT_LIST_DIR}/frames_cross_vcan0.sh)
