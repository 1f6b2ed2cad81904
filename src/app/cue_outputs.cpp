#include "app/cue_outputs.h"

#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "app/program_log.h"
#include "io/tones.h"

namespace sumplog {
namespace {

namespace fs = std::filesystem;

void ring_bell() {
  if (isatty(STDERR_FILENO) != 0) std::fputc('\a', stderr);
}

}  // namespace

Result<std::unique_ptr<CueOutputs>> CueOutputs::open(boost::asio::io_context& loop,
                                                     const ProgramSettings& settings) {
  if (auto ok = check(settings); !ok) return tl::unexpected(ok.error());
  std::unique_ptr<CueOutputs> out(new CueOutputs(loop));
  out->sounds_ = settings.value("sound").value_or("on") == "on";
  for (const char* player : {"aplay", "paplay"})
    if (out->player_.empty()) out->player_ = program_path(player);
  if (const auto program = settings.value("on_cue")) out->program_ = program_path(*program);
  return out;
}

Result<void> CueOutputs::check(const ProgramSettings& settings) {
  const std::string sound = settings.value("sound").value_or("on");
  if (sound != "on" && sound != "off")
    return fault("'" + sound + "' is neither on nor off", settings.place("sound"));
  if (const auto program = settings.value("on_cue"); program && program_path(*program).empty())
    return fault("no such program: '" + *program + "'", settings.place("on_cue"), "name an executable file");
  return {};
}

CueOutputs::~CueOutputs() {
  std::error_code ignored;
  if (!folder_.empty()) fs::remove_all(folder_, ignored);
}

void CueOutputs::on_cue(const CueEvent& cue) {
  const CueSound which = sound_of(cue.name);
  if (sounds_) sound(which);
  if (program_.empty()) return;
  const auto started = programs_.start({program_, cue.name, std::string(text_of(which)), cue.text});
  if (!started) log_warning(started.error().text());
}

void CueOutputs::sound(CueSound which) {
  const std::string file = player_.empty() ? std::string() : tone_file(which);
  if (file.empty()) {
    ring_bell();
    return;
  }
  const bool quiet_option = player_.ends_with("/aplay");
  std::vector<std::string> words{player_};
  if (quiet_option) words.emplace_back("-q");
  words.push_back(file);
  const auto started = programs_.start(words, [](bool worked) {
    if (!worked) ring_bell();  // no sound card, or somebody else has it
  });
  if (!started) ring_bell();
}

/// The player reads a file: written once for each sound.
std::string CueOutputs::tone_file(CueSound which) {
  std::error_code error;
  if (folder_.empty()) {
    std::string name = (fs::temp_directory_path(error) / "sumplog-tones-XXXXXX").string();
    if (error || ::mkdtemp(name.data()) == nullptr) return {};
    folder_ = name;
  }
  const fs::path path = fs::path(folder_) / (std::string(text_of(which)) + ".wav");
  if (!fs::exists(path, error)) {
    std::ofstream file(path, std::ios::binary);
    file << wav_of(which);
    if (!file.flush()) return {};
  }
  return path.string();
}

}  // namespace sumplog
