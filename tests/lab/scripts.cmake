# Tests on a real kernel, in other builds and on an empty system. They keep wall time, so nothing else runs beside them.
function(sumplog_lab_test name label timeout script)
  sumplog_script_test(${name} ${label} ${timeout} bash ${CMAKE_SOURCE_DIR}/tests/lab/${script} ${ARGN})
  set_tests_properties(${name} PROPERTIES RUN_SERIAL TRUE)
endfunction()

sumplog_lab_test(lab_frames_cross_vcan0 lab 120 frames_cross_vcan0.sh)
sumplog_lab_test(lab_serve_on_vcan lab 400 serve_on_vcan.sh)
sumplog_lab_test(lab_resume_on_vcan lab 300 resume_on_vcan.sh)
sumplog_lab_test(lab_serial_adapter lab 300 serial_adapter.sh)
sumplog_lab_test(lab_hot_plug lab 330 hot_plug.sh)
sumplog_lab_test(lab_fresh_debian lab-long 5400 fresh_debian.sh)
sumplog_lab_test(builds_all_agree builds 3600 four_builds.sh all)
sumplog_lab_test(builds_two_agree builds-short 1800 four_builds.sh short)
