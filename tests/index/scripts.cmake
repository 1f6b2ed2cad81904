# Made-up jobs into SQLite and a throw-away PostgreSQL server: a short round by default, 10,000 jobs with the label long.
sumplog_script_test(index_many_jobs_short index 120 python3 -B ${CMAKE_CURRENT_LIST_DIR}/many_jobs.py 200)
sumplog_script_test(index_many_jobs long 1800 python3 -B ${CMAKE_CURRENT_LIST_DIR}/many_jobs.py 10000)
