#include "app/command_line.h"

#include <CLI/CLI.hpp>
#include <csignal>
#include <exception>
#include <iostream>
#include <memory>

#include "app/command_words.h"
#include "app/commands.h"
#include "app/job_opening.h"
#include "app/sweep_options.h"

namespace sumplog {
namespace {

constexpr char kCautions[] =
    "Hot fluid, a running engine, a raised car: follow the vehicle maker's procedure, local\n"
    "codes and licensed practice. sumplog only reads; it can change nothing in the vehicle.";

std::string dashed(std::string_view key) {
  std::string out(key);
  for (char& c : out)
    if (c == '_') c = '-';
  return out;
}

/// Options that every command knows, and where their values go.
class Call {
 public:
  Call() : app_("sumplog: transmission fluid temperature through a level check, read-only", "sumplog") {
    app_.require_subcommand(1);
    app_.set_version_flag("--version", program_text());
    app_.footer(kCautions);
    add_replay();
    add_serve();
    add_scan();
    add_learn();
    add_jobs();
    add_record();
    add_demo();
    add_sounds();
    add_simulate();
    add_decoders();
    add_watch();
    add_verify();
    add_report();
    add_export();
  }

  int run(int count, const char* const* words, const char* const* environment) {
    try {
      app_.parse(count, words);
    } catch (const CLI::ParseError& error) {
      if (error.get_exit_code() == static_cast<int>(CLI::ExitCodes::Success)) return app_.exit(error);
      std::cerr << "sumplog: " << error.what() << "; see 'sumplog --help'\n";
      return static_cast<int>(ExitStatus::wrong);
    }
    for (const auto& [key, value] : given_) common_.settings.set(key, *value);
    if (auto read = common_.settings.read_environment(environment); !read)
      return static_cast<int>(report(read.error(), ExitStatus::wrong));
    if (!config_.empty()) {
      auto text = read_text_file(config_);
      if (!text) return static_cast<int>(report(text.error(), ExitStatus::wrong));
      if (auto read = common_.settings.read_file(*text, config_); !read)
        return static_cast<int>(report(read.error(), ExitStatus::wrong));
    }
    return static_cast<int>(command_());
  }

  [[nodiscard]] CommandWords words() const { return words_of(app_); }

 private:
  CLI::App* add(const std::string& name, const std::string& what, const std::string& example,
                std::initializer_list<std::string_view> settings) {
    CLI::App* command = app_.add_subcommand(name, what);
    command->footer("Example:  " + example);
    add_common(command, settings);
    return command;
  }

  void add_common(CLI::App* command, std::initializer_list<std::string_view> settings) {
    command->add_flag("--json", common_.json, "JSON lines on standard output, and nothing else");
    command->add_flag("-v,--verbose", common_.verbose, "more detail on standard error");
    command->add_option("--config", config_, "configuration file (TOML)");
    for (const std::string_view key : settings) {
      for (const SettingName& setting : setting_names()) {
        if (setting.key != key) continue;
        command->add_option_function<std::string>(
            "--" + dashed(key), [this, key](const std::string& value) { take(key, value); },
            std::string(setting.help));
        if (key == "decoder")
          command->get_option("--decoder")
              ->take_all()
              ->expected(1)
              ->multi_option_policy(CLI::MultiOptionPolicy::Join)
              ->delimiter(',');
      }
    }
  }

  void take(std::string_view key, const std::string& value) {
    for (auto& [name, text] : given_) {
      if (name == key) {
        *text = value;
        return;
      }
    }
    given_.emplace_back(std::string(key), std::make_unique<std::string>(value));
  }

  void add_replay() {
    CLI::App* c = add("replay", "run a recording through the program, as if it were live",
                      "sumplog replay drive.log --decoder demo-9 --json",
                      {"decoder", "service", "window", "min_stay", "step", "rounding"});
    c->add_option("FILE", replay_.input,
                  "job file, candump log, pcapng, pcap, ASC or CSV; '-' reads standard input")
        ->required();
    c->add_option_function<std::string>(
        "--speed",
        [this](const std::string& text) {
          if (text == "max") {
            replay_.speed = 0;
            return;
          }
          char* end = nullptr;
          replay_.speed = std::strtod(text.c_str(), &end);
          if (text.empty() || *end != '\0' || !(replay_.speed > 0) || replay_.speed > 1e6)
            throw CLI::ValidationError("--speed", "'" + text + "' is neither max nor a number above 0");
        },
        "max (default), 1 for real time, or N times as fast");
    c->callback([this] { command_ = [this] { return run_replay(common_, replay_); }; });
  }

  void add_serve() {
    CLI::App* c = add("serve", "log a job on a CAN interface; without one the page leads to it",
                      "sumplog serve --interface can0 --decoder demo-9",
                      {"interface", "bitrate", "sample_point", "decoder", "service", "window", "min_stay",
                       "data", "record", "rate", "listen", "sound", "on_cue", "index", "bay"});
    c->add_option("--job", serve_.job, "go on with this job: its file, or the beginning of its id");
    c->add_option("--for", serve_.for_s, "stop after so many seconds")->check(CLI::PositiveNumber);
    c->add_flag("--first-steps", serve_.first_steps,
                "the page leads to the job: it waits for the adapter, and a person chooses what is not set")
        ->excludes("--job");
    c->callback([this] { command_ = [this] { return run_serve(common_, serve_); }; });
  }

  void add_scan() {
    CLI::App* c = add("scan", "read the fault codes of all units that can be asked, or ask who is there",
                      "sumplog scan --interface can0 --decoder demo-9",
                      {"interface", "bitrate", "sample_point", "decoder", "data", "record", "index", "bay"});
    c->add_flag("--who", scan_.who, "who is there: asked, answered, silent, not asked");
    c->add_option("--stage", scan_.stage,
                  "before or after the work: the job stays open, and 'after' is compared")
        ->check(CLI::IsMember({"before", "after"}));
    c->add_option("--job", scan_.job, "scan into this job file");
    c->add_option("CAPTURE", scan_.capture, "a recording instead of the bus; '-' reads standard input");
    c->callback([this] { command_ = [this] { return run_scan(common_, scan_); }; });
  }

  void add_learn() {
    CLI::App* c = add(
        "learn", "find the fluid temperature where nobody wrote it down: in a recording, or by asking a car",
        "sumplog learn warm-up.log --seen 24.0@10:02:10±1 --seen 38.5@10:11:00±1 --write decoders/my-car",
        {"interface", "bitrate", "sample_point", "decoder", "data", "listen", "index", "bay"});
    c->add_option("CAPTURE", learn_.capture, "a recording of the whole bus; '-' reads standard input");
    c->add_option("--seen", learn_.seen, "a reading by hand: °C@time±error, the time of day or +seconds")
        ->allow_extra_args(false);
    c->add_option("--cold-soak", learn_.soak_c, "°C that everything had at the beginning, after a night")
        ->check(CLI::Range(-60.0, 60.0));
    c->add_option("--write", learn_.write,
                  "make a decoder folder of it, whose last name is the decoder's id");
    c->add_option("--signal", learn_.signal, "write this signal of the list, not the first; 1 is the first");
    add_sweep_options(*c, learn_.sweep);
    c->callback([this] { command_ = [this] { return run_learn(common_, learn_); }; });
  }

  CLI::App* add_jobs_action(CLI::App* jobs, const std::string& name, const std::string& what,
                            const std::string& example,
                            ExitStatus (*action)(const CommonOptions&, const JobsOptions&)) {
    CLI::App* c = jobs->add_subcommand(name, what);
    c->footer("Example:  sumplog jobs " + example);
    c->callback([this, action] { command_ = [this, action] { return action(common_, jobs_); }; });
    return c;
  }
  void add_job_name(CLI::App* command, std::string& job) {
    command->add_option("JOB", job, "path of a job file, or the beginning of its id")->required();
  }

  /// The settings of `jobs` stand behind its action, where a person looks for them.
  void add_jobs() {
    CLI::App* jobs = app_.add_subcommand("jobs", "begin, list, show, close, copy or find jobs");
    jobs->require_subcommand(1);
    jobs->footer("Example:  sumplog jobs list");
    CLI::App* begin = add_jobs_action(jobs, "new", "begin a job file; serve --job goes on with it",
                                      "new --plate 'AB 123' --odometer 84200 --decoder demo-9", run_jobs_new);
    add_common(begin, {"decoder", "service", "window", "min_stay", "data"});
    const std::pair<const char*, const char*> kIntakeOptions[] = {
        {"plate", "number plate"},
        {"vin", "vehicle identification number, as typed"},
        {"odometer", "km"},
        {"customer", "whose vehicle it is"},
        {"complaint", "in the customer's words"},
        {"technician", "who does the work"},
        {"transmission", "converter, cvt, wet dct, dry dct or hybrid"},
        {"unit", "exact code of the transmission"},
        {"fluid", "specification of the new fluid"},
        {"batch", "of the new fluid"}};
    for (const auto& [name, help] : kIntakeOptions) {
      const std::string field = std::string(name) == "odometer" ? "odometer_km" : name;
      begin->add_option_function<std::string>(
          std::string("--") + name,
          [this, field](const std::string& value) { jobs_.intake.push_back(field + "=" + value); }, help);
    }
    add_common(add_jobs_action(jobs, "list", "all jobs of the data folder", "list", run_jobs_list), {"data"});
    CLI::App* show = add_jobs_action(jobs, "show", "what one job's file says", "show 3f2a", run_jobs_show);
    add_common(show, {"data"});
    add_job_name(show, jobs_.job);
    CLI::App* close = add_jobs_action(jobs, "close", "close a job: nothing can be added afterwards",
                                      "close 3f2a --sign-over 'K. Example'", run_jobs_close);
    add_common(close, {"data"});
    add_job_name(close, jobs_.job);
    close->add_option("--sign-over", jobs_.sign_over, "who takes over what is still open");
    add_job_copies(jobs);
    add_job_index(jobs);
  }

  void add_job_copies(CLI::App* jobs) {
    CLI::App* c = jobs->add_subcommand("redact", "a copy without plate, VIN, names, free texts and photos");
    c->footer("Example:  sumplog jobs redact 3f2a --to copy.log");
    add_common(c, {"data"});
    add_job_name(c, redact_.job);
    c->add_option("-o,--to", redact_.to, "a new file, or a folder")->required();
    c->callback([this] { command_ = [this] { return run_jobs_redact(common_, redact_); }; });
  }

  void add_job_index(CLI::App* jobs) {
    CLI::App* rebuild =
        jobs->add_subcommand("rebuild", "make the index of the data folder's jobs from their files");
    rebuild->footer("Example:  sumplog jobs rebuild");
    add_common(rebuild, {"data", "index", "bay"});
    rebuild->callback([this] { command_ = [this] { return run_jobs_rebuild(common_); }; });
    CLI::App* find =
        jobs->add_subcommand("find", "look in the index: plate, VIN, day, fault code, fluid, verdict");
    find->footer("Example:  sumplog jobs find --plate 'AB CD 4711'");
    add_common(find, {"data", "index", "bay"});
    find->add_option("--plate", find_.plate, "number plate; blanks, hyphens and case do not count");
    find->add_option("--vin", find_.vin, "VIN, typed or read; its end is enough");
    find->add_option("--from", find_.from, "first day, 2025-11-25");
    find->add_option("--to", find_.to, "last day");
    find->add_option("--code", find_.code, "fault code, P0711");
    find->add_option("--fluid", find_.fluid, "part of a specification");
    find->add_option("--verdict", find_.verdict, "of the level check: kept, 'not kept' or none")
        ->check(CLI::IsMember({"kept", "not kept", "none"}));
    find->callback([this] { command_ = [this] { return run_jobs_find(common_, find_); }; });
  }

  void add_record() {
    CLI::App* c =
        add("record", "record one entry of a job: what a person did or read",
            "sumplog record 3f2a fluid_out litres=4.5 temp_c=38 --ago 40 --by 'K. Example'", {"data"});
    add_job_name(c, record_.job);
    c->add_option("NAME", record_.name, "name of the entry (docs/entries.md)")->required();
    c->add_option("FIELD", record_.fields, "key=value");
    c->add_option("--ago", record_.ago_s, "it happened so many seconds ago, 600 at most");
    c->add_option("--by", record_.by, "who did it");
    c->add_option("--id", record_.id, "of the entry; the same again is the same entry");
    c->callback([this] { command_ = [this] { return run_record(common_, record_); }; });
  }

  void add_demo() {
    CLI::App* c = add("demo", "the main job on the simulated vehicle, without any adapter",
                      "sumplog demo --once", {"data", "listen", "sound", "on_cue", "index", "bay"});
    c->add_flag("--once", demo_.once, "in fast time, without a page; ends by itself");
    c->add_flag("--first-steps", demo_.first_steps, "decoder and window are chosen on the page");
    c->add_option("--job", demo_.job, "go on with this job file, on a vehicle that begins anew");
    c->add_option("--for", demo_.for_s, "stop after so many seconds")->check(CLI::PositiveNumber);
    c->add_option("--scenario", demo_.scenario, "scenario file of the simulated vehicle");
    c->callback([this] { command_ = [this] { return run_demo(common_, demo_); }; });
  }

  void add_sounds() {
    CLI::App* c =
        add("sounds", "play each sound once, before it is needed", "sumplog sounds", {"sound", "on_cue"});
    c->callback([this] { command_ = [this] { return run_sounds(common_); }; });
  }

  void add_simulate() {
    CLI::App* c = add(
        "simulate", "the simulated vehicle on a vcan or vxcan interface, or into a file",
        "sumplog simulate --interface vcan0 --scenario captures/demo-9/cold-start-to-window/scenario.toml",
        {"interface", "decoder"});
    c->add_option("--scenario,scenario", simulate_.scenario, "scenario file");
    c->add_option("--to", simulate_.to, "write what a tester would record to this file, in fast time");
    c->add_option("--job", simulate_.job,
                  "a live job with the entries of the scenario, in fast time, into this job file");
    c->add_option("--hostile", simulate_.hostile,
                  "a whole job on a hostile bus in virtual time, judged; SEED or FIRST..LAST");
    c->callback([this] {
      command_ = [this] {
        if (!simulate_.hostile.empty()) return run_hostile(common_, simulate_);
        return simulate_.job.empty() ? run_simulate(common_, simulate_)
                                     : run_simulated_job(common_, simulate_);
      };
    });
  }

  void add_decoders() {
    CLI::App* c =
        add("decoders", "list, check or show decoders", "sumplog decoders check decoders/demo-9", {});
    c->require_subcommand(1);
    const auto action = [&](const std::string& name, const std::string& what, DecodersOptions::Action which) {
      CLI::App* a = c->add_subcommand(name, what);
      a->add_option("DECODER", decoders_.which, "ids or folders; none: all that are known");
      a->add_flag("--json", common_.json, "JSON lines on standard output, and nothing else");
      a->callback([this, which] {
        decoders_.action = which;
        command_ = [this] { return run_decoders(common_, decoders_); };
      });
    };
    action("list", "which decoders are known", DecodersOptions::Action::list);
    action("check", "read them strictly and run their check vectors", DecodersOptions::Action::check);
    action("show", "what they read, and where each limit comes from", DecodersOptions::Action::show);
  }

  void add_verify() {
    CLI::App* c = add("verify", "was a job file, one of its photos or an archive of them changed?",
                      "sumplog verify job.tar --fingerprint HEX", {});
    c->add_option("JOB", verify_.job, "job file, or an archive that export made")->required();
    c->add_option("--fingerprint", verify_.fingerprint, "the one that the report prints");
    c->callback([this] { command_ = [this] { return run_verify(common_, verify_); }; });
  }

  void add_watch() {
    CLI::App* c =
        add("watch", "follow a job that another sumplog runs: a status line, and a line for each event",
            "sumplog watch 3f2a", {"data"});
    c->add_option("JOB", watch_.job,
                  "path of a job file, or the beginning of its id; none: the one that runs");
    c->add_option("--for", watch_.for_s, "stop after so many seconds")->check(CLI::PositiveNumber);
    c->add_flag("--fahrenheit", watch_.fahrenheit, "temperatures in °F");
    c->callback([this] { command_ = [this] { return run_watch(common_, watch_); }; });
  }

  void add_report() {
    CLI::App* c =
        add("report", "one HTML file to print: a sheet for the customer, then the technician's pages",
            "sumplog report 3f2a -o report.html", {"data"});
    add_job_name(c, report_.job);
    c->add_option("-o,--to,--output", report_.to, "file to write")->required();
    c->add_flag("--replace", report_.replace, "write over a file of that name");
    c->add_flag("--fahrenheit", report_.fahrenheit, "temperatures in °F");
    c->callback([this] { command_ = [this] { return run_report(common_, report_); }; });
  }

  void add_export() {
    CLI::App* c = add("export", "a recording in another form",
                      "sumplog export job.log --as pcapng -o job.pcapng", {"decoder", "service", "window"});
    c->add_option("FILE", export_.input, "any recording that replay reads")->required();
    c->add_option("--as", export_.as,
                  "candump, pcapng, asc, csv (readings), or archive (job file and photos, tar)")
        ->required()
        ->check(CLI::IsMember({"candump", "pcapng", "asc", "csv", "archive"}));
    c->add_option("-o,--to,--output", export_.to, "file to write; '-' (default) is standard output");
    c->callback([this] { command_ = [this] { return run_export(common_, export_); }; });
  }

  CLI::App app_;
  CommonOptions common_;
  std::string config_;
  std::vector<std::pair<std::string, std::unique_ptr<std::string>>> given_;
  ReplayOptions replay_;
  ServeOptions serve_;
  ScanOptions scan_;
  LearnOptions learn_;
  JobsOptions jobs_;
  RecordOptions record_;
  DemoOptions demo_;
  SimulateOptions simulate_;
  DecodersOptions decoders_;
  VerifyOptions verify_;
  RedactOptions redact_;
  FindOptions find_;
  WatchOptions watch_;
  ReportOptions report_;
  ExportOptions export_;
  std::function<ExitStatus()> command_;
};

}  // namespace

ExitStatus report(const Fault& fault, ExitStatus status) {
  std::cerr << "sumplog: " << fault.text() << '\n';
  return status;
}

CommandWords command_words() {
  return Call().words();
}

int run_command_line(int count, const char* const* words, const char* const* environment) {
  // A reader of our output that goes away must not end a job: whoever writes sees it at his stream.
  (void)std::signal(SIGPIPE, SIG_IGN);
  try {
    Call call;
    return call.run(count, words, environment);
  } catch (const std::exception& error) {
    std::cerr << "sumplog: " << error.what() << '\n';
    return static_cast<int>(ExitStatus::failed);
  }
}

}  // namespace sumplog
