#pragma once
#include <boost/asio/io_context.hpp>
#include <memory>
#include <string>

#include "app/program_settings.h"
#include "core/job/cue_sound.h"
#include "core/journal/event.h"
#include "io/child_programs.h"

namespace sumplog {

/// What a cue does in the bay: a sound of this computer (through aplay or paplay, else the terminal's bell), and the program of
/// the setting `on_cue`: a lamp, a horn. Neither is waited for.
class CueOutputs {
 public:
  /// err  `sound` is neither on nor off · `on_cue` names no program
  [[nodiscard]] static Result<std::unique_ptr<CueOutputs>> open(boost::asio::io_context& loop,
                                                                const ProgramSettings& settings);
  /// The same errors, and nothing is opened.
  [[nodiscard]] static Result<void> check(const ProgramSettings& settings);
  ~CueOutputs();
  CueOutputs(const CueOutputs&) = delete;
  CueOutputs& operator=(const CueOutputs&) = delete;

  void on_cue(const CueEvent& cue);
  [[nodiscard]] bool busy() const { return programs_.running() > 0; }

 private:
  explicit CueOutputs(boost::asio::io_context& loop) : programs_(loop) {}
  void sound(CueSound which);
  [[nodiscard]] std::string tone_file(CueSound which);

  ChildPrograms programs_;
  bool sounds_ = true;
  std::string player_;   ///< path; empty: none is there
  std::string program_;  ///< of on_cue; empty: none
  std::string folder_;   ///< of the tones, our own; empty: not made yet
};

}  // namespace sumplog
