#pragma once
#include <cstdint>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "core/item/frame.h"
#include "core/item/time.h"

namespace sumplog {

// An item is anything that can change an output. The recorder writes it to the job file before the core
// sees it; file order rules. How each looks as text: docs/job_file.md.

/// Opens a job or a capture: who made it, and every setting that shapes the outputs.
struct Settings {
  TimePoint at{};
  std::string job;        ///< random job id, 32 hex digits; "capture" for a recording made elsewhere
  std::string program;    ///< "sumplog 0.1.0"
  std::string time_zone;  ///< IANA name, or "" when unknown
  std::vector<std::pair<std::string, std::string>>
      values;  ///< key, value; the keys are in core/job/setting.h
};

/// The whole text of a decoder or service file that the job uses.
struct DecoderText {
  TimePoint at{};
  std::string name;  ///< "demo-9/signals.toml"
  std::string text;
};

/// Something a person did or typed: plug out, a volume, a reading by hand, a verdict that was shown.
struct Entry {
  TimePoint at{};
  std::string id;      ///< given by the client; a repeated id is the same entry
  std::string name;    ///< "reading_by_hand", "plug_out", …
  std::string fields;  ///< the rest, as one JSON object
};

enum class LinkState : std::uint8_t { up, down, gone, error_passive, bus_off };
/// The CAN link changed its state: seen through rtnetlink, or in an error frame.
struct LinkEvent {
  TimePoint at{};
  BusName bus{};
  LinkState state = LinkState::up;
};

/// The kernel could not deliver frames (SO_RXQ_OVFL): how many since the last such item.
struct ReceiveDrops {
  TimePoint at{};
  BusName bus{};
  std::uint64_t frames = 0;
};

/// The wall clock was set: job time goes on, this is by how much the two now differ more.
struct ClockStep {
  TimePoint at{};
  Duration step{};
};

struct ScanMark {
  TimePoint at{};
  bool begun = false;  ///< false: ended
  std::string scan;    ///< "before", "after", "during"
};

/// Another tester was heard on the bus.
struct OtherTester {
  TimePoint at{};
  BusName bus{};
  CanId id{};
};

/// The file ended in a fragment when the job was resumed: its length in bytes.
struct Torn {
  TimePoint at{};
  std::uint64_t bytes = 0;
};

/// A deadline was reached live while no item came: replay fires it at the same place.
struct Advance {
  TimePoint at{};
};
/// The job goes on after the program was stopped.
struct Resume {
  TimePoint at{};
};
/// The job, or the capture, is over.
struct End {
  TimePoint at{};
};

/// One row of a CSV of readings made elsewhere; an absent value is "no reading".
struct GivenReading {
  TimePoint at{};
  std::string signal;  ///< "fluid_temperature", "engine_speed", …
  std::string value;   ///< number as text, in the signal's unit; empty: asked, no value
};

/// Part of the input could not be read; never written to a job file, only made by readers.
struct Unreadable {
  TimePoint at{};
  std::uint64_t line = 0;  ///< line, or block of a binary capture, counted from 1
  std::string why;
};

using Item = std::variant<Settings, DecoderText, CanFrame, Entry, LinkEvent, ReceiveDrops, ClockStep,
                          ScanMark, OtherTester, Torn, Advance, Resume, End, GivenReading, Unreadable>;

[[nodiscard]] inline TimePoint time_of(const Item& item) {
  if (const auto* frame = std::get_if<CanFrame>(&item)) return frame->at;  // nearly every item is one
  return std::visit([](const auto& one) { return one.at; }, item);
}

}  // namespace sumplog
