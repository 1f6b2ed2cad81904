# What stands around the program: installed files, manual pages, completions, unit, udev rules, the Debian package. Whole, in an
# empty Debian: the label lab-long.
set(here ${CMAKE_CURRENT_LIST_DIR})
foreach(one manual_pages completion service_files)
  sumplog_script_test(package_${one} package 120 python3 -B ${here}/${one}.py ${CMAKE_BINARY_DIR})
endforeach()
sumplog_script_test(package_service_on_the_program package 120 python3 -B ${here}/service_on_the_program.py)
sumplog_script_test(package_unpacked package 180 bash ${CMAKE_SOURCE_DIR}/tests/lab/package_in_debian.sh --short ${CMAKE_BINARY_DIR})
