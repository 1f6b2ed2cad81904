# Boots a kernel, so nothing else should run beside it.
if(TARGET io_tests)
  sumplog_script_test(io_on_a_can_kernel lab 450 bash ${CMAKE_CURRENT_LIST_DIR}/on_a_can_kernel.sh $<TARGET_FILE:io_tests>)
  set_tests_properties(io_on_a_can_kernel PROPERTIES RUN_SERIAL TRUE)
  sumplog_script_test(io_kernel_isotp lab 450 bash ${CMAKE_CURRENT_LIST_DIR}/kernel_isotp.sh $<TARGET_FILE:io_tests>)
  set_tests_properties(io_kernel_isotp PROPERTIES RUN_SERIAL TRUE)
endif()
