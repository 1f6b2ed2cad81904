sumplog_script_test(web_contract_on_the_program web 120 python3 -B ${CMAKE_CURRENT_LIST_DIR}/contract_on_the_program.py)
sumplog_script_test(web_first_steps_on_the_program web 180 python3 -B ${CMAKE_CURRENT_LIST_DIR}/first_steps_on_the_program.py)
sumplog_script_test(web_page_words web 30 python3 -B ${CMAKE_CURRENT_LIST_DIR}/page_words.py)
sumplog_script_test(watch_on_the_program web 180 python3 -B ${CMAKE_CURRENT_LIST_DIR}/watch_on_the_program.py)
