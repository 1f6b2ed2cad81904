#include "core/job/confirmations.h"

#include <algorithm>
#include <cmath>

#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/job/entry_fields.h"

namespace sumplog {
namespace {

constexpr double kAgree_c = 5;  // own choice, as for the cold soak: half of the usual mistake in an offset

}  // namespace

Confirmations::Confirmations(const JobConfiguration& configuration) {
  const auto& service = configuration.service;
  if (service && service->window && configuration.window == service->window->value) {
    file_origin_ = service->id + "/service.toml: " + std::string(text_of(service->window->origin));
    if (!service->window->note.empty()) file_origin_ += ", " + service->window->note;
  }
  for (const Decoder& decoder : configuration.decoders)
    for (const Signal& signal : decoder.signals) {
      if (signal.name != "fluid_temperature") continue;
      decoder_known_ = true;
      inferred_ = inferred_ || signal.origin == Origin::inferred;
    }
}

void Confirmations::on_entry(const Entry& entry) {
  if (entry.name != kConfirmed) return;
  const std::string what = text_field(entry, "what").value_or("");
  if (what == "thermometer") thermometer_ = true;
  Said* said = what == "window" ? &window_ : what == "decoder" ? &decoder_ : nullptr;
  if (said == nullptr) return;
  said->confirmed = true;
  if (const auto origin = text_field(entry, "origin")) said->origin = *origin;
}

void Confirmations::on_compared(double by_hand_c, double measured_c) {
  off_c_ = by_hand_c - measured_c;
}

std::string Confirmations::window_origin() const {
  return file_origin_.empty() ? window_.origin : file_origin_;
}

std::optional<std::string> Confirmations::window_reason() const {
  if (!window_.confirmed) return "nobody confirmed the window";
  if (window_origin().empty()) return "nobody said where the window comes from";
  return std::nullopt;
}

std::optional<std::string> Confirmations::decoder_reason() const {
  if (!decoder_.confirmed) return "nobody confirmed the decoder";
  if (!decoder_known_ && decoder_.origin.empty()) return "nobody said where the readings come from";
  return std::nullopt;
}

std::optional<std::string> Confirmations::thermometer_reason(bool agreed_cold) const {
  if (off_c_ && std::abs(*off_c_) > kAgree_c)
    return "the second thermometer differed by " + fixed(std::abs(*off_c_), 0) + " °C";
  // Coolant and air agree with many things that are cold, and another job may have had another car.
  if (inferred_ && !off_c_)
    return "the decoder was inferred, and no second thermometer agreed with it in this job";
  if (off_c_ || agreed_cold || thermometer_) return std::nullopt;
  return "the unit's thermometer was not compared with another one";
}

std::vector<std::string> Confirmations::by_hand(bool agreed_cold) const {
  std::vector<std::string> words;
  if (file_origin_.empty() && !window_.origin.empty()) words.emplace_back("origin of the window");
  if (!decoder_known_ && !decoder_.origin.empty()) words.emplace_back("origin of the readings");
  if (thermometer_ && !off_c_ && !agreed_cold) words.emplace_back("thermometer compared in an earlier job");
  return words;
}

}  // namespace sumplog
