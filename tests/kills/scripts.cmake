# Real processes, killed and starved; the long round is its own label.
sumplog_script_test(kills_short kills 300 python3 -B ${CMAKE_CURRENT_LIST_DIR}/kill_served_job.py 12)
sumplog_script_test(kills_full_disk kills 180 python3 -B ${CMAKE_CURRENT_LIST_DIR}/full_disk.py)
sumplog_script_test(kills_1000 long 7200 python3 -B ${CMAKE_CURRENT_LIST_DIR}/kill_served_job.py 1000)
