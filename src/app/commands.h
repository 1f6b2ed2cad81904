#pragma once
#include <optional>
#include <string>
#include <vector>

#include "app/exit_status.h"
#include "app/program_settings.h"
#include "core/asker/sweep_range.h"
#include "core/item/result.h"

namespace sumplog {

// One function a command; command_line.cpp fills in the options. Errors are printed by the command, one line on standard
// error.

struct CommonOptions {
  ProgramSettings settings;
  bool json = false;  ///< standard output holds JSON lines and nothing else
  bool verbose = false;
};

struct ReplayOptions {
  std::string input;  ///< a path, or "-"
  double speed = 0;   ///< times as fast as it was recorded; 0: as fast as possible
};
[[nodiscard]] ExitStatus run_replay(const CommonOptions& common, const ReplayOptions& options);

/// A job that asks everything once, prints nothing and ends by itself.
struct ScanJob {
  bool codes = false;  ///< fault codes; otherwise only who is there
  std::string stage;   ///< "before", "after": the job goes on afterwards; empty: it is closed
  std::string path;    ///< of the job file, filled in
};

/// A sweep of identifiers beside a job that records the whole bus, says how far it is, and ends by itself; the job stays open.
struct SweepJob {
  std::vector<SweepRange> ranges;
  std::string agreed_by;
  std::string path;      ///< of the job file, filled in
  bool went_on = false;  ///< filled in: it had begun, and not every unit was stopped
};

struct ServeOptions {
  std::string job;              ///< resume this job file; empty: a new one in the data folder
  std::optional<double> for_s;  ///< stop by itself after so many seconds
  ScanJob* scan = nullptr;      ///< a scan instead of a job
  SweepJob* sweep = nullptr;    ///< a sweep beside it
  bool first_steps = false;     ///< decoder and window are chosen on the page
  std::string confirmed_by;     ///< who stood for decoder and window before the job began; empty: nobody
};
[[nodiscard]] ExitStatus run_serve(const CommonOptions& common, const ServeOptions& options);

struct ScanOptions {
  bool who = false;     ///< who is there; otherwise fault codes
  std::string stage;    ///< as in ScanJob
  std::string job;      ///< scan into this job file; empty: a new one
  std::string capture;  ///< a recording instead of the bus; empty: live
};
[[nodiscard]] ExitStatus run_scan(const CommonOptions& common, const ScanOptions& options);

struct SweepOptions {
  std::vector<std::string> ranges;  ///< "7E1:1A00-1AFF": a unit, and identifiers that it is asked for
  std::string job;                  ///< go on with this job file; empty: a new one
  std::optional<double> for_s;      ///< how long; nothing: a quarter of an hour
  std::string agreed_by;            ///< who has agreed to it; empty: asked for on the terminal
};
/// Asks a vehicle that stands for identifiers, slowly, and records everything. Nothing is known of them beforehand.
/// out  job_path  the job file, whatever came of the sweep; empty where there is none
[[nodiscard]] ExitStatus run_sweep(const CommonOptions& common, const SweepOptions& options,
                                   std::string& job_path);

struct LearnOptions {
  std::string capture;            ///< a recording; empty: a car is asked first
  SweepOptions sweep;             ///< how
  std::vector<std::string> seen;  ///< readings by hand: "36.0@10:02:10±1"
  std::optional<double> soak_c;   ///< everything had this temperature at the beginning
  std::string write;              ///< folder of the decoder to be made; empty: none
  std::optional<int> signal;  ///< which signal is written, 1 for the first; nothing: the first, if it is sure
};
[[nodiscard]] ExitStatus run_learn(const CommonOptions& common, const LearnOptions& options);

struct SimulateOptions {
  std::string scenario;  ///< path of a scenario.toml, or the name of one that is shipped
  std::string to;        ///< write the capture of a scripted tester here instead of driving an interface
  std::string job;       ///< write a live job with the scenario's entries into this job file
  std::string hostile;   ///< seed of a hostile job, or FIRST..LAST; `to` is then its job file
};
[[nodiscard]] ExitStatus run_simulate(const CommonOptions& common, const SimulateOptions& options);
/// `simulate --job`
[[nodiscard]] ExitStatus run_simulated_job(const CommonOptions& common, const SimulateOptions& options);
/// `simulate --hostile`: docs/hostile_bus.md
[[nodiscard]] ExitStatus run_hostile(const CommonOptions& common, const SimulateOptions& options);

/// Plays each sound once, and runs the program of `on_cue` for it.
[[nodiscard]] ExitStatus run_sounds(const CommonOptions& common);

struct DemoOptions {
  bool once = false;            ///< fast time, ends by itself
  bool first_steps = false;     ///< decoder and window are chosen on the page
  std::string scenario;         ///< empty: the cold start
  std::string job;              ///< as in ServeOptions
  std::optional<double> for_s;  ///< as in ServeOptions
};
[[nodiscard]] ExitStatus run_demo(const CommonOptions& common, const DemoOptions& options);

struct DecodersOptions {
  enum class Action { list, check, show } action = Action::list;
  std::vector<std::string> which;  ///< ids or folders; empty: all that are known
};
[[nodiscard]] ExitStatus run_decoders(const CommonOptions& common, const DecodersOptions& options);

struct JobsOptions {
  std::vector<std::string> intake;  ///< "plate=…", words for the entry `intake`
  std::string job;                  ///< a path, or the beginning of an id
  std::string sign_over;            ///< who takes the open items over
};
[[nodiscard]] ExitStatus run_jobs_new(const CommonOptions& common, const JobsOptions& options);
[[nodiscard]] ExitStatus run_jobs_list(const CommonOptions& common, const JobsOptions& options);
[[nodiscard]] ExitStatus run_jobs_show(const CommonOptions& common, const JobsOptions& options);
[[nodiscard]] ExitStatus run_jobs_close(const CommonOptions& common, const JobsOptions& options);

struct RecordOptions {
  std::string job;   ///< a path, or the beginning of an id
  std::string name;  ///< of the entry
  std::vector<std::string> fields;
  std::optional<std::string> ago_s;
  std::string by;
  std::string id;  ///< empty: a new one
};
[[nodiscard]] ExitStatus run_record(const CommonOptions& common, const RecordOptions& options);

struct VerifyOptions {
  std::string job;          ///< job file or archive
  std::string fingerprint;  ///< one kept elsewhere as it was typed, or empty
};
[[nodiscard]] ExitStatus run_verify(const CommonOptions& common, const VerifyOptions& options);

struct RedactOptions {
  std::string job;
  std::string to;  ///< a new file, or a folder
};
[[nodiscard]] ExitStatus run_jobs_redact(const CommonOptions& common, const RedactOptions& options);

[[nodiscard]] ExitStatus run_jobs_rebuild(const CommonOptions& common);

struct FindOptions {
  std::string plate, vin, code, fluid;
  std::string verdict;   ///< "kept", "not kept", "none"
  std::string from, to;  ///< days, both included
};
[[nodiscard]] ExitStatus run_jobs_find(const CommonOptions& common, const FindOptions& options);

struct WatchOptions {
  std::string job;              ///< a path, or the beginning of an id; empty: the one that is running
  std::optional<double> for_s;  ///< stop after so many seconds
  bool fahrenheit = false;      ///< temperatures in °F
};
[[nodiscard]] ExitStatus run_watch(const CommonOptions& common, const WatchOptions& options);

struct ReportOptions {
  std::string job;          ///< a path, or the beginning of an id
  std::string to;           ///< the HTML file
  bool replace = false;     ///< what has that name already
  bool fahrenheit = false;  ///< temperatures in °F
};
[[nodiscard]] ExitStatus run_report(const CommonOptions& common, const ReportOptions& options);

struct ExportOptions {
  std::string input;
  std::string as;  ///< candump, pcapng, asc, csv, archive
  std::string to;  ///< a path, or "-"
};
[[nodiscard]] ExitStatus run_export(const CommonOptions& common, const ExportOptions& options);

/// Prints "sumplog: <fault>" on standard error.
[[nodiscard]] ExitStatus report(const Fault& fault, ExitStatus status);

}  // namespace sumplog
