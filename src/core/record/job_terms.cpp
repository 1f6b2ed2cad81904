#include "core/record/job_terms.h"

#include "core/item/json_line.h"
#include "core/job/job_settings.h"

namespace sumplog {
namespace {

constexpr int kTemperatureDecimals = 2;
constexpr int kVolumeDecimals = 2;

bool reads_fluid(const Decoder& decoder) {
  for (const auto& signal : decoder.signals)
    if (signal.name == "fluid_temperature") return true;
  return false;
}

std::string decoder_text(const Decoder& decoder) {
  JsonLine line;
  line.text("id", decoder.id).text("title", decoder.title);
  if (!decoder.note.empty()) line.text("note", decoder.note);
  line.flag("fluid_temperature", reads_fluid(decoder));
  return line.take();
}

std::string window_text(const TemperatureWindow& window, const std::optional<ServiceFile>& service) {
  JsonLine line;
  line.number("low_c", window.low.value, kTemperatureDecimals);
  line.number("high_c", window.high.value, kTemperatureDecimals);
  if (service && service->window && service->window->value == window) {
    line.text("origin", text_of(service->window->origin));
    if (!service->window->note.empty()) line.text("origin_note", service->window->note);
  }
  return line.take();
}

void add_service(JsonLine& line, const ServiceFile& service) {
  line.raw("service", JsonLine().text("id", service.id).text("title", service.title).take());
  const auto temperature = [&](const char* key, const std::optional<Sourced<Celsius>>& one) {
    if (one) line.number(key, one->value.value, kTemperatureDecimals);
  };
  temperature("decision_c", service.decision_point);
  temperature("start_below_c", service.start_limit);
  temperature("coolant_below_c", service.coolant_limit);
  if (service.fill_l) line.number("fill_l", service.fill_l->value, kVolumeDecimals);
  if (service.criterion) line.text("criterion", service.criterion->value);
  if (service.selector_cycle) {
    std::vector<std::string> positions;
    for (const SelectorHold& hold : service.selector_cycle->value) positions.push_back(hold.position);
    line.texts("selector_cycle", positions);
  }
  if (service.by_hand) line.texts("by_hand", service.by_hand->value);
  if (service.cautions) line.texts("cautions", service.cautions->value);
}

}  // namespace

std::string job_terms(const std::vector<Item>& header) {
  ConfigurationReader reader;
  for (const Item& item : header) reader.on_item(item);
  const JobConfiguration job = reader.finish();
  JsonLine line;
  std::vector<std::string> decoders;
  for (const Decoder& decoder : job.decoders) decoders.push_back(decoder_text(decoder));
  line.raw("decoders", json_array(decoders));
  if (job.window)
    line.raw("window", window_text(*job.window, job.service));
  else
    line.text("no_window_why", job.no_window_why);
  line.number("fresh_s", in_seconds(job.fresh), 1);
  line.number("minimum_stay_s", in_seconds(job.minimum_stay), 1);
  if (job.service) add_service(line, *job.service);
  if (!job.problems.empty()) line.texts("problems", job.problems);
  return line.take();
}

}  // namespace sumplog
