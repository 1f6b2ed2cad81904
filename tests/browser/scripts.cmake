# The page in Debian's Chromium; screenshots are left in build/…/browser/shots.
foreach(browser_test access program setup warm_up)
  sumplog_script_test(browser_${browser_test} browser 300 ${CMAKE_CURRENT_LIST_DIR}/run.sh ${CMAKE_BINARY_DIR} ${browser_test}.mjs)
  set_tests_properties(browser_${browser_test} PROPERTIES RUN_SERIAL TRUE)
endforeach()
# The others wait for the program in real time, minutes in all.
set_tests_properties(browser_setup PROPERTIES LABELS page)
