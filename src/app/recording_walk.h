#pragma once
#include <utility>
#include <variant>

#include "app/commands.h"
#include "app/recording.h"
#include "core/job/job_settings.h"

namespace sumplog {

/// Runs a recording through the core. `use` gets each item and what came of it; the decoders come first.
/// out  how the recording ended
template <class Begin, class Use>
ExitStatus walk(Recording& recording, Begin begin, Use use) {
  ConfigurationReader configuration;
  bool begun = false;
  const auto begin_once = [&] {
    if (!std::exchange(begun, true)) begin(configuration.finish().decoders);
  };
  Output out;
  while (true) {
    auto item = recording.next();
    if (!item) return report(item.error(), ExitStatus::failed);
    if (!*item) break;
    const bool opens =
        std::holds_alternative<Settings>(**item) || std::holds_alternative<DecoderText>(**item);
    if (opens && !begun) {
      configuration.on_item(**item);
    } else if (!opens) {
      begin_once();
    }
    out.clear();
    recording.flow().on_item(**item, out);
    if (begun) use(**item, out);
  }
  begin_once();
  return recording.report_ending();
}

}  // namespace sumplog
