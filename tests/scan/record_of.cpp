// Plays a scenario and writes what its scripted tester's adapter records as a candump log to standard output:
//   record_of SCENARIO.toml > log
// Exit status 2: the scenario cannot be read, and why.
#include <fstream>
#include <iostream>
#include <iterator>
#include <string>

#include "core/vehicle/record_scenario.h"

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: record_of SCENARIO.toml > log\n";
    return 2;
  }
  std::ifstream file(argv[1], std::ios::binary);
  if (!file) {
    std::cerr << argv[1] << ": cannot be opened\n";
    return 2;
  }
  const std::string text{std::istreambuf_iterator<char>(file), {}};
  const auto items = sumplog::record_scenario(text, argv[1]);
  if (!items) {
    std::cerr << items.error().text() << '\n';
    return 2;
  }
  std::cout << sumplog::capture_text(*items);
  return 0;
}
