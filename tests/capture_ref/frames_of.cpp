// Reads a capture on standard input and writes its frames to standard output as a candump log, or in another
// form:
//   frames_of [--as candump|pcapng|asc] < capture
// Records that cannot be read and the way the input ended go to standard error. Exit status 2: not a capture.
#include <cstdio>
#include <iostream>
#include <iterator>
#include <string>
#include <string_view>

#include "core/capture/reader.h"
#include "core/capture/writer.h"

int main(int argc, char** argv) {
  using namespace sumplog;
  WrittenForm form = WrittenForm::candump;
  if (argc == 3 && std::string_view(argv[1]) == "--as") {
    const std::string_view name = argv[2];
    if (name == "pcapng") {
      form = WrittenForm::pcapng;
    } else if (name == "asc") {
      form = WrittenForm::asc;
    } else if (name != "candump") {
      std::cerr << "frames_of: unknown form " << name << '\n';
      return 2;
    }
  } else if (argc != 1) {
    std::cerr << "usage: frames_of [--as candump|pcapng|asc] < capture\n";
    return 2;
  }
  std::cin.sync_with_stdio(false);
  const std::string input{std::istreambuf_iterator<char>(std::cin), {}};
  const auto recognised = recognise(std::string_view(input).substr(0, 4096));
  if (!recognised) {
    std::cerr << recognised.error().text() << '\n';
    return 2;
  }
  const auto reader = make_reader(*recognised);
  const auto writer = make_writer(form);
  std::string out;
  const auto drain = [&] {
    while (const auto item = reader->next()) {
      if (const auto* bad = std::get_if<Unreadable>(&*item))
        std::cerr << "unreadable " << bad->line << ": " << bad->why << '\n';
      if (const auto* given = std::get_if<GivenReading>(&*item))
        out += std::to_string(micros(given->at)) + ' ' + given->signal + ' ' + given->value + '\n';
      writer->on_item(*item, out);
    }
  };
  constexpr std::size_t kPiece = 65536;
  for (std::size_t at = 0; at < input.size(); at += kPiece) {
    reader->on_bytes(std::string_view(input).substr(at, kPiece));
    drain();
  }
  reader->on_end();
  drain();
  writer->on_end(out);
  std::cout << out;
  const Ending ending = reader->ending();
  constexpr const char* kKinds[] = {"clean", "torn", "corrupt"};
  std::cerr << kKinds[static_cast<int>(ending.kind)] << ' ' << ending.line << ' ' << ending.why << '\n';
  return 0;
}
