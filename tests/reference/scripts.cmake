# Other programs read the same captures; nothing of theirs is stored, they are asked while the test runs.
set(here ${CMAKE_CURRENT_LIST_DIR})
set(samples ${CMAKE_BINARY_DIR}/reference)
sumplog_script_test(reference_samples reference 30 python3 -B ${here}/samples.py ${samples})
set_tests_properties(reference_samples PROPERTIES FIXTURES_SETUP reference_samples)

# At least so many values in the samples must be compared: an empty comparison is no success.
sumplog_script_test(reference_tshark_samples reference 120 python3 -B ${here}/against_tshark.py 130
  ${samples}/parameters_11.log ${samples}/parameters_29.log ${samples}/identity_11.log ${samples}/identity_29.log
  ${samples}/interleaved.log ${samples}/identifiers.log:demo-9)
sumplog_script_test(reference_scapy_samples reference 120 /usr/bin/python3 -B ${here}/against_scapy.py 100
  ${samples}/parameters_11.log ${samples}/parameters_29.log ${samples}/together_11.log ${samples}/together_29.log
  ${samples}/identity_11.log ${samples}/identity_29.log ${samples}/interleaved.log ${samples}/identifiers.log:demo-9)
set_tests_properties(reference_tshark_samples reference_scapy_samples PROPERTIES FIXTURES_REQUIRED reference_samples)

# The project's own captures, each with the decoder that its folder names.
file(GLOB captures CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/captures/*/*/capture.log)
set(with_decoders)
foreach(capture ${captures})
  cmake_path(GET capture PARENT_PATH scenario)
  cmake_path(GET scenario PARENT_PATH family)
  cmake_path(GET family FILENAME decoder)
  list(APPEND with_decoders ${capture}:${decoder})
endforeach()
if(captures)
  sumplog_script_test(reference_tshark_captures reference 300 python3 -B ${here}/against_tshark.py 100 ${with_decoders})
  sumplog_script_test(reference_scapy_captures reference 300 /usr/bin/python3 -B ${here}/against_scapy.py 100 ${with_decoders})
endif()
