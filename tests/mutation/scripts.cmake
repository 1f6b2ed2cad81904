# Small mistakes in the core that its tests must notice: docs/hardening.md.
sumplog_script_test(mutation_check mutation 10800 python3 -B ${CMAKE_CURRENT_LIST_DIR}/check.py)
set_tests_properties(mutation_check PROPERTIES RUN_SERIAL TRUE)
