# Rules of the house that no compiler checks.
foreach(check core_is_pure no_long_file names_no_machine tree_is_tidy)
  sumplog_script_test(house_${check} house 60 python3 -B ${CMAKE_CURRENT_LIST_DIR}/${check}.py)
endforeach()
sumplog_script_test(house_formatted house 120 bash ${CMAKE_CURRENT_LIST_DIR}/formatted.sh)
sumplog_script_test(house_checks_notice house 120 bash ${CMAKE_CURRENT_LIST_DIR}/checks_notice.sh)
sumplog_script_test(house_named_tests house 60 python3 -B ${CMAKE_CURRENT_LIST_DIR}/named_tests.py ${CMAKE_BINARY_DIR})

# clang-tidy needs 5 to 20 s for a file: it stops by itself, newest files first.
set(SUMPLOG_TIDY_SECONDS 240 CACHE STRING "how long the clang-tidy test may start new files, in seconds")
sumplog_script_test(house_clang_tidy tidy 600 bash ${CMAKE_CURRENT_LIST_DIR}/clang_tidy.sh ${CMAKE_BINARY_DIR} ${SUMPLOG_TIDY_SECONDS})
