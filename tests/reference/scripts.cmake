# Other programs read the same captures; nothing of theirs is stored, they are asked while the test runs.
set(here ${CMAKE_CURRENT_LIST_DIR})
set(samples ${CMAKE_BINARY_DIR}/reference)
sumplog_script_test(reference_samples reference 30 python3 -B ${here}/samples.py ${samples})
set_tests_properties(reference_samples PROPERTIES FIXTURES_SETUP reference_samples)

# At least so many values in the samples must be compared: an empty comparison is no success.
function(sample_captures result)
  list(TRANSFORM ARGN REPLACE "(.+)" "${samples}/\\1/capture.log")
  set(${result} ${ARGN} PARENT_SCOPE)
endfunction()
sample_captures(for_tshark parameters-11 parameters-29 identity-11 identity-29 interleaved identifiers)
sample_captures(for_scapy parameters-11 parameters-29 together-11 together-29 identity-11 identity-29 interleaved)
sumplog_script_test(reference_tshark_samples reference 120 python3 -B ${here}/against_tshark.py 140 ${for_tshark})
sumplog_script_test(reference_scapy_samples reference 120 /usr/bin/python3 -B ${here}/against_scapy.py 160 ${for_scapy})
set_tests_properties(reference_tshark_samples reference_scapy_samples PROPERTIES FIXTURES_REQUIRED reference_samples)

# The project's own captures, each with the decoder that its about.toml names.
file(GLOB captures CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/captures/*/*/capture.log)
if(captures)
  sumplog_script_test(reference_tshark_captures reference 600 python3 -B ${here}/against_tshark.py 10000 ${captures})
  sumplog_script_test(reference_scapy_captures reference 600 /usr/bin/python3 -B ${here}/against_scapy.py 8000 ${captures})
endif()

# The exponential fit of the cool-down plan beside GSL's.
find_package(GSL)
if(GSL_FOUND)
  add_executable(against_gsl ${here}/against_gsl.cpp)
  target_link_libraries(against_gsl PRIVATE sumplog_core GSL::gsl)
  add_test(NAME reference_gsl_exponential_fit COMMAND against_gsl)
  set_tests_properties(reference_gsl_exponential_fit PROPERTIES LABELS reference TIMEOUT 60)
  # And how old and new fluid mix, beside a numerical integration.
  add_executable(exchange_against_gsl ${here}/exchange_against_gsl.cpp)
  target_link_libraries(exchange_against_gsl PRIVATE sumplog_core GSL::gsl)
  add_test(NAME reference_gsl_exchange COMMAND exchange_against_gsl)
  set_tests_properties(reference_gsl_exchange PROPERTIES LABELS reference TIMEOUT 60)
endif()
