# The independent check of what left for the vehicle is itself checked, on made-up logs.
sumplog_script_test(guard_list_made_up_logs lab 60 python3 -B ${CMAKE_CURRENT_LIST_DIR}/made_up_logs.py)
