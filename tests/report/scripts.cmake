sumplog_script_test(report_on_paper report 600 python3 -B ${CMAKE_CURRENT_LIST_DIR}/report_on_paper.py)
