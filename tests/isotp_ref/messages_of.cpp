// Reads a candump log on standard input and writes every ISO 15765-2 message in it to standard output, one a line:
//   messages_of [--extended REQUEST RESPONSE] < log
//   can0 7E9 4902015741…           with an address byte: can0 612/F1 4902…
// --extended names one more pair of 11-bit identifiers (hex) that carry an address byte.
// Losses go to standard error, one a line. Exit status 2: a line that cannot be read.
#include <iostream>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/candump_text.h"
#include "core/isotp/transport.h"
#include "core/item/json_line.h"

namespace {

void show(const sumplog::TransportStep& step) {
  using namespace sumplog;
  if (step.loss) {
    std::cerr << "loss " << ecu_text(step.loss->from.id, step.loss->from.address) << ' ' << step.loss->frames
              << ' ' << step.loss->why << '\n';
  }
  if (!step.message) return;
  const Message& message = *step.message;
  std::cout << message.from.bus.text() << ' ' << ecu_text(message.from.id, message.from.address) << ' '
            << hex_text(message.payload.data(), message.payload.size()) << '\n';
}

}  // namespace

int main(int argc, char** argv) {
  using namespace sumplog;
  std::vector<UnitAddress> named;
  if (argc == 4 && std::string_view(argv[1]) == "--extended") {
    const auto id = [](const char* text) {
      return standard_id(static_cast<std::uint32_t>(std::stoul(text, nullptr, 16)));
    };
    named.push_back({id(argv[2]), id(argv[3]), AddressingMode::extended, std::nullopt, std::nullopt});
  } else if (argc != 1) {
    std::cerr << "usage: messages_of [--extended REQUEST RESPONSE] < log\n";
    return 2;
  }
  std::cin.sync_with_stdio(false);
  Transport transport{AddressBook(std::move(named))};
  TimePoint now{};
  std::string line;
  for (std::uint64_t number = 1; std::getline(std::cin, line); ++number) {
    if (line.empty() || line.front() == '#') continue;
    const auto frame = parse_candump_line(line);
    if (!frame) {
      std::cerr << "line " << number << ": " << frame.error() << '\n';
      return 2;
    }
    now = frame->at;
    while (transport.deadline() && *transport.deadline() <= now) show(transport.on_deadline(now));
    show(transport.on_frame(*frame));
  }
  while (transport.deadline()) show(transport.on_end(now));
  return 0;
}
