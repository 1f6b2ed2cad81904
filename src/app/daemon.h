#pragma once
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <memory>
#include <optional>
#include <ostream>
#include <string>
#include <vector>

#include "app/commands.h"
#include "app/cue_outputs.h"
#include "app/entry_desk.h"
#include "app/journal_lines.h"
#include "app/journal_printer.h"
#include "app/live_port.h"
#include "app/readable.h"
#include "app/service_watch.h"
#include "app/setup_desk.h"
#include "app/web_contract.h"
#include "core/asker/live_job.h"
#include "core/drawing/course_chart.h"
#include "core/job/kept_frames.h"
#include "core/journal/entry_lines.h"
#include "core/journal/newest_lines.h"
#include "core/record/job_summary.h"
#include "io/job_time.h"
#include "io/photo_store.h"
#include "io/recorder.h"
#include "io/web_server.h"

namespace sumplog {

/// A job file that is held, and its opening items as they were written.
struct HeldJob {
  JobFile file;
  std::vector<Item> header;
};

struct DaemonOptions {
  bool keep_all = false;  ///< the whole bus, not only the frames that the job needs
  AskerSettings asking;
  bool json = false;
  const ScanJob* scan = nullptr;  ///< a scan instead of a job that goes on until somebody ends it
  SetupDesk* setup = nullptr;     ///< a look at the car before there is a job
  CueOutputs* cues = nullptr;     ///< what sounds and lights; nothing: the cues are only written
  SweepJob* sweep = nullptr;      ///< a sweep beside the job, which then ends open
};

/// The loop of a live job: one thread for core, bus and page; the disk workers are those of the recorder and of the photos.
class Daemon {
 public:
  Daemon(boost::asio::io_context& loop, std::unique_ptr<LivePort> port, JobTime time, HeldJob job,
         const DaemonOptions& options);
  ~Daemon();
  Daemon(const Daemon&) = delete;
  Daemon& operator=(const Daemon&) = delete;

  /// The past of a resumed job; its end may hold what mending the file added, which nobody has printed yet.
  [[nodiscard]] Result<void> replay_past(bool print_last);
  void begin_new(const std::vector<Item>& header);
  /// Serves the page, and says beside the job file where.
  void serve(std::unique_ptr<WebServer> page);

  /// What a person has said already, before run().
  void enter(std::string name, std::string fields);

  /// Ends the loop; the job stays open.
  void leave() { (void)finish(false); }

  /// Goes on until the job is closed or left.
  [[nodiscard]] ExitStatus run(bool resumed, std::optional<double> for_s);

 private:
  void submit(Item item);
  void on_past(const Item& item, bool keep_events);
  void look_at(const Item& item, const std::vector<Event>& events);
  void on_can();
  void on_written();
  void take_written();
  void on_time();
  void wait_until_due();
  void tell_progress();
  void tell_sweep(TimePoint now);
  void carry_out(LiveOutput&& out);
  void show(const std::vector<Event>& events);
  std::string keep(const Event& event);
  void watch_disk();
  void tell_manager(const std::string& trouble) const;
  [[nodiscard]] std::string state() const;
  [[nodiscard]] std::string course(CourseOptions options, std::optional<Duration> newest) const;
  void store_photo(std::string id, std::string bytes, std::string of, std::string by, WebReply reply);
  void close_for(const std::string& sign_over, const WebReply& reply);
  Result<void> finish(bool close_job);
  void leave_loop();

  boost::asio::io_context& loop_;
  std::unique_ptr<LivePort> port_;
  JobTime time_;
  std::string path_;
  std::string job_id_;
  const DaemonOptions options_;
  KeptFrames kept_;
  LiveJob live_;
  std::size_t told_done_ = 0;
  TimePoint tell_sweep_at_{};  ///< its next line
  std::optional<TimePoint> end_at_;
  std::ostream nowhere_;
  JournalPrinter printer_;
  bool told_unprinted_ = false;
  std::vector<Event> last_events_;
  JournalLines lines_;
  NewestLines newest_;
  EntryLines entries_;
  JobSummary summary_;
  CourseChart course_;
  Recorder recorder_;
  EntryDesk desk_;
  std::optional<TimePoint> disk_fails_since_;
  std::string disk_trouble_;
  std::uint64_t refused_ = 0;  ///< items that the recorder had no room for
  boost::asio::steady_timer timer_;
  boost::asio::steady_timer end_timer_;
  boost::asio::signal_set signals_;
  std::optional<Readable> step_ready_;
  std::optional<ServiceWatch> watch_;
  WebContract contract_;
  std::unique_ptr<WebServer> web_;
  PhotoStore photos_;  ///< after what its answers touch
  std::string run_id_;
  bool finished_ = false;
  ExitStatus status_ = ExitStatus::done;
};

}  // namespace sumplog
