#include <iostream>

#include "app/commands.h"
#include "app/job_opening.h"
#include "core/codes/code_file.h"
#include "core/decoder/decoder.h"
#include "core/decoder/service_file.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

struct Loaded {
  Decoder decoder;
  std::optional<ServiceFile> service;
  std::optional<CodeFile> codes;
};

Result<Loaded> load(const std::string& which) {
  auto texts = load_decoder(which);
  if (!texts) return tl::unexpected(texts.error());
  Loaded loaded;
  for (const DecoderText& text : *texts) {
    if (text.name.ends_with("/signals.toml")) {
      auto decoder = parse_decoder(text.text, text.name);
      if (!decoder) return tl::unexpected(decoder.error());
      loaded.decoder = std::move(*decoder);
    } else if (text.name.ends_with("/codes.toml")) {
      auto codes = parse_code_file(text.text, text.name);
      if (!codes) return tl::unexpected(codes.error());
      loaded.codes = std::move(*codes);
    } else {
      auto service = parse_service_file(text.text, text.name);
      if (!service) return tl::unexpected(service.error());
      loaded.service = std::move(*service);
    }
  }
  return loaded;
}

std::size_t vectors(const Decoder& decoder) {
  std::size_t count = 0;
  for (const Signal& signal : decoder.signals) count += signal.checks.size();
  return count;
}

bool has_fluid(const Decoder& decoder) {
  for (const Signal& signal : decoder.signals)
    if (signal.name == "fluid_temperature") return true;
  return false;
}

std::string window_text(const std::optional<ServiceFile>& service) {
  if (!service || !service->window) return "no window";
  return "window " + fixed(service->window->value.low.value, 0) + "…" +
         fixed(service->window->value.high.value, 0) + " °C (" +
         std::string(text_of(service->window->origin)) + ")";
}

void print_summary(const Loaded& loaded, bool json) {
  const Decoder& d = loaded.decoder;
  if (json) {
    JsonLine line;
    line.text("id", d.id)
        .text("title", d.title)
        .integer("signals", static_cast<std::int64_t>(d.signals.size()))
        .integer("check_vectors", static_cast<std::int64_t>(vectors(d)))
        .flag("fluid_temperature", has_fluid(d));
    if (loaded.service && loaded.service->window)
      line.raw("window_c", "[" + fixed(loaded.service->window->value.low.value, 1) + "," +
                               fixed(loaded.service->window->value.high.value, 1) + "]");
    if (loaded.codes)
      line.integer("fault_codes", static_cast<std::int64_t>(loaded.codes->texts.size()))
          .integer("code_classes", static_cast<std::int64_t>(loaded.codes->classes.size()));
    std::cout << line.take() << '\n';
    return;
  }
  std::cout << d.id << ": " << d.title << '\n'
            << "  " << d.signals.size() << " signals, " << vectors(d) << " check vectors hold, "
            << (has_fluid(d) ? "fluid temperature" : "no fluid temperature") << ", "
            << window_text(loaded.service) << '\n';
  if (loaded.codes)
    std::cout << "  " << loaded.codes->texts.size() << " fault codes described, "
              << loaded.codes->classes.size() << " groups of codes classed\n";
}

std::string name_of(const CodeRange& code) {
  if (code.form == CodeRange::Form::spn) return "SPN " + std::to_string(code.first);
  const auto text = [](std::uint32_t value) {
    return text_of(J2012Code{static_cast<std::uint16_t>(value), std::nullopt});
  };
  return text(code.first) + (code.last == code.first ? "" : "-" + text(code.last));
}

/// " (FMI 0, 15, 16)", " (failure type 11)"
std::string details_of(const CodeClassing& classing) {
  if (classing.details.empty()) return "";
  const bool spn = classing.codes.front().form == CodeRange::Form::spn;
  std::string out;
  for (const std::uint8_t detail : classing.details)
    out += (out.empty() ? "" : ", ") + (spn ? std::to_string(detail) : hex_text(&detail, 1));
  return (spn ? " (FMI " : " (failure type ") + out + ")";
}

void print_codes(const CodeFile& codes) {
  for (const CodeClassing& classing : codes.classes) {
    std::string names;
    for (const CodeRange& code : classing.codes) names += (names.empty() ? "" : ", ") + name_of(code);
    std::cout << "  " << text_of(classing.code_class) << ": " << names << details_of(classing) << "\n    "
              << classing.why << " (origin " << text_of(classing.origin)
              << (classing.origin_note.empty() ? "" : ": " + classing.origin_note) << ")\n";
  }
}

void print_signals(const Loaded& loaded) {
  if (!loaded.decoder.note.empty()) std::cout << "  note: " << loaded.decoder.note << '\n';
  for (const Signal& s : loaded.decoder.signals)
    std::cout << "  " << s.name << " (" << s.unit << "): " << fixed(s.valid_low, s.decimals) << " to "
              << fixed(s.valid_high, s.decimals) << ", origin " << text_of(s.origin)
              << (s.origin_note.empty() ? "" : ": " + s.origin_note) << '\n';
}

}  // namespace

ExitStatus run_decoders(const CommonOptions& common, const DecodersOptions& options) {
  const std::vector<std::string> which = options.which.empty() ? known_decoders() : options.which;
  ExitStatus status = ExitStatus::done;
  for (const std::string& one : which) {
    auto loaded = load(one);
    if (!loaded) {
      status = report(loaded.error(), ExitStatus::wrong);
      continue;
    }
    print_summary(*loaded, common.json);
    if (options.action != DecodersOptions::Action::show || common.json) continue;
    print_signals(*loaded);
    if (loaded->codes) print_codes(*loaded->codes);
  }
  return status;
}

}  // namespace sumplog
