# Does it hold what it needs, and no more, for as long as a job can be: docs/hardening.md.
sumplog_script_test(soak_virtual_day soak 3600 python3 -B ${CMAKE_CURRENT_LIST_DIR}/virtual_day.py 24)
sumplog_script_test(soak_served_hour soak 4500 bash ${CMAKE_CURRENT_LIST_DIR}/serve_for_long.sh 3600)
sumplog_script_test(soak_served_two_minutes lab 500 bash ${CMAKE_CURRENT_LIST_DIR}/serve_for_long.sh 120)
set_tests_properties(soak_virtual_day soak_served_hour soak_served_two_minutes PROPERTIES RUN_SERIAL TRUE)
