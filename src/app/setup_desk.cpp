#include "app/setup_desk.h"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <utility>

#include "app/job_opening.h"
#include "core/decoder/decoder.h"
#include "core/decoder/service_file.h"
#include "core/decoder/signal_name.h"
#include "core/item/json_line.h"
#include "io/can_link.h"
#include "io/http_status.h"

namespace sumplog {
namespace {

constexpr int kDecimals = 1;  // of a limit in °C
constexpr std::string_view kWantedSignal = "fluid_temperature";
constexpr std::size_t kLongestName = 100;
constexpr std::string_view kService = "/service.toml";
constexpr std::string_view kSignals = "/signals.toml";

std::string window_json(const ServiceFile& service) {
  JsonLine window;
  window.number("low_c", service.window->value.low.value, kDecimals);
  window.number("high_c", service.window->value.high.value, kDecimals);
  if (service.decision_point) window.number("decide_c", service.decision_point->value.value, kDecimals);
  window.text("origin", text_of(service.window->origin));
  if (!service.window->note.empty()) window.text("origin_note", service.window->note);
  return window.take();
}

/// One decoder for the choice; nothing when its files do not hold: `decoders check` says why.
std::optional<std::string> decoder_json(const std::string& id) {
  const auto texts = load_decoder(id);
  if (!texts) return std::nullopt;
  JsonLine line;
  line.text("id", id);
  for (const DecoderText& text : *texts) {
    if (text.name.ends_with(kSignals)) {
      const auto decoder = parse_decoder(text.text, text.name);
      if (!decoder) return std::nullopt;
      line.text("title", decoder->title);
      if (!decoder->note.empty()) line.text("note", decoder->note);
      line.flag("fluid_temperature",
                std::any_of(decoder->signals.begin(), decoder->signals.end(),
                            [](const Signal& one) { return one.name == kWantedSignal; }));
    }
    if (text.name.ends_with(kService)) {
      const auto service = parse_service_file(text.text, text.name);
      if (service && service->window) line.raw("window", window_json(*service));
    }
  }
  return line.take();
}

std::string adapters_json() {
  std::vector<std::string> found;
  for (const std::string& name : can_interfaces()) {
    const bool up = interface_state(name) == LinkState::up;
    found.push_back(JsonLine().text("name", name).text("state", up ? "up" : "down").take());
  }
  for (const std::string& port : serial_ports())
    found.push_back(JsonLine()
                        .text("name", port)
                        .text("state", "serial port")
                        .text("note", "only if your CAN adapter is plugged in here")
                        .take());
  return json_array(found);
}

}  // namespace

SetupDesk::SetupDesk(const ProgramSettings& settings, std::function<void()> chosen)
    : chosen_(std::move(chosen)), interface_(settings.value("interface").value_or("")) {
  std::vector<std::string> known;
  for (const std::string& id : known_decoders()) {
    auto one = decoder_json(id);
    if (!one) continue;
    known.push_back(std::move(*one));
    ids_.push_back(id);
  }
  decoders_ = json_array(known);
}

void SetupDesk::show(Stage stage, std::string help) {
  stage_ = stage;
  help_ = std::move(help);
}

std::string SetupDesk::text() const {
  JsonLine line;
  line.text("stage", stage_ == Stage::adapter ? "adapter" : "car");
  line.raw("interfaces", adapters_json());
  if (!interface_.empty()) line.text("interface", interface_);
  if (!help_.empty()) line.text("help", help_);
  line.raw("decoders", decoders_);
  return line.take();
}

void SetupDesk::on_request(const WebRequest& request, const WebReply& reply) {
  if (request.method == "GET") {
    reply(WebAnswer{200, "application/json", text() + "\n", {}});
  } else if (request.method == "POST") {
    on_choice(request, reply);
  } else {
    auto answer =
        web_fault(http_status::kWrongMethod,
                  Fault{"this cannot be done here", request.method + " " + request.path, "use GET or POST"});
    answer.headers.emplace_back("Allow", "GET, POST");
    reply(std::move(answer));
  }
}

void SetupDesk::on_choice(const WebRequest& request, const WebReply& reply) {
  const auto body = request.content_type == "application/json"
                        ? nlohmann::json::parse(request.body, nullptr, false)
                        : nlohmann::json();
  const auto word = [&](const char* key) {
    return body.is_object() && body.contains(key) && body[key].is_string() ? body[key].get<std::string>()
                                                                           : std::string();
  };
  const std::string interface = word("interface");
  const std::string decoder = word("decoder");
  const std::string by = word("by");
  if (interface.empty() == decoder.empty()) {
    reply(web_fault(http_status::kBadRequest,
                    Fault{"this is no choice", request.path,
                          R"(send {"interface":"can0"}, or {"decoder":"demo-9","by":"NAME"})"}));
    return;
  }
  if (!interface.empty()) {
    if (stage_ != Stage::adapter) {
      reply(web_fault(http_status::kConflict,
                      Fault{"the adapter " + interface_ + " is in use already", "interface",
                            "stop the program and start it again for another one"}));
      return;
    }
    interface_ = interface;
  } else {
    if (stage_ != Stage::car) {
      reply(web_fault(http_status::kConflict,
                      Fault{"there is no adapter yet", "decoder", "choose the adapter first"}));
      return;
    }
    if (std::find(ids_.begin(), ids_.end(), decoder) == ids_.end()) {
      reply(web_fault(http_status::kNotAccepted,
                      Fault{"no decoder '" + decoder + "'", "decoder", "choose one of the list"}));
      return;
    }
    if (by.empty() || by.size() > kLongestName) {
      reply(
          web_fault(http_status::kNotAccepted, Fault{"nobody stands for this choice", "by",
                                                     "give the name of the technician, at most 100 bytes"}));
      return;
    }
    job_ = JobChoice{decoder, by};
  }
  reply(WebAnswer{200, "application/json", text() + "\n", {}});
  chosen_();
}

}  // namespace sumplog
