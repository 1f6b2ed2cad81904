# The page in Debian's Chromium; screenshots are left in build/…/browser/shots.
foreach(browser_test access parts program setup strangers warm_up)
  sumplog_script_test(browser_${browser_test} browser 300 ${CMAKE_CURRENT_LIST_DIR}/run.sh ${CMAKE_BINARY_DIR} ${browser_test}.mjs)
  set_tests_properties(browser_${browser_test} PROPERTIES RUN_SERIAL TRUE)
endforeach()
# The others wait for the program in real time, minutes in all.
set_tests_properties(browser_parts browser_setup PROPERTIES LABELS page)
# Prints how long a frame takes to the browser; what it says depends on the machine.
sumplog_script_test(browser_frame_to_pixel bench 300 ${CMAKE_CURRENT_LIST_DIR}/run.sh ${CMAKE_BINARY_DIR} frame_to_pixel.mjs)
set_tests_properties(browser_frame_to_pixel PROPERTIES RUN_SERIAL TRUE)
