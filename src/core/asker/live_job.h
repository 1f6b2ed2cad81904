#pragma once
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/asker/asker.h"
#include "core/asker/live_sweep.h"
#include "core/guard/guard.h"
#include "core/item/item.h"
#include "core/job/plug.h"
#include "core/journal/event.h"
#include "core/journal/flow.h"

namespace sumplog {

/// What the shell must do after a call.
struct LiveOutput {
  std::vector<Event> events;       ///< the journal
  std::vector<Item> record;        ///< to the recorder; they come back through on_written
  std::vector<GuardedFrame> send;  ///< to the bus
  void clear() {
    events.clear();
    record.clear();
    send.clear();
  }
};

/// A job while it runs: the core, the asker and the guard joined. Pure: the shell (or a bus in virtual time) brings items that
/// were written, and the time.
class LiveJob {
 public:
  /// `decoders`: those of the job's opening items; `bus`: where to ask, from `start` on.
  LiveJob(const std::vector<Decoder>& decoders, BusName bus, TimePoint start);
  LiveJob(const std::vector<Decoder>& decoders, const AskerSettings& settings, TimePoint start);

  /// The past of a job that is resumed: only the core sees it. Its events are what the journal said already.
  void on_past(const Item& item, LiveOutput& out);
  /// An item whose write returned.
  void on_written(const Item& item, LiveOutput& out);
  /// Everything that was on the bus up to `now` has gone to the recorder before.
  void on_time(TimePoint now, LiveOutput& out);
  /// The frame could not be sent: its echo will never come.
  void on_not_sent(const GuardedFrame& frame) { guard_.on_send_failed(frame); }
  /// The recorder had no room for something that this job wanted recorded.
  /// out  true: it will be asked for again by itself; false: it is lost
  [[nodiscard]] bool on_refused(const Item& item, TimePoint now);
  /// A frame that the job does not keep: it changes no output, but it tells that the vehicle is awake.
  void on_not_kept(const CanFrame& frame) { asker_.on_frame(frame, false); }
  void set_bit_rate(std::uint32_t bit_rate) { asker_.set_bit_rate(bit_rate); }
  /// Everything that is asked once was asked (PlanPurpose::who).
  [[nodiscard]] bool finished() const { return asker_.finished() && !scan_wanted_ && !scanning_; }
  /// A scan of fault codes, as if a person had asked for it with an entry.
  void want_scan(const std::string& scan) { scan_wanted_ = scan; }
  /// Questions of the scan that are done, and those that are known so far.
  [[nodiscard]] std::pair<std::size_t, std::size_t> scan_progress() const { return asker_.scan_progress(); }
  /// Nothing where the settings name no identifiers to sweep.
  [[nodiscard]] const std::optional<LiveSweep>& sweep() const { return sweep_; }
  /// 01 00 to all units on a functional identifier, outside the asker's plan: for the search of a bit rate.
  [[nodiscard]] std::optional<GuardedFrame> ask_who(CanId functional, TimePoint now);
  /// When on_time is wanted, at the latest.
  [[nodiscard]] std::optional<TimePoint> deadline() const;

 private:
  void run_flow(const Item& item, LiveOutput& out);
  void on_person(const Entry& entry);
  void on_scan_mark(const ScanMark& mark);
  void record_what_is_due(TimePoint now, LiveOutput& out);
  void mark_scan(TimePoint now, LiveOutput& out);
  void send_requests(TimePoint now, LiveOutput& out);
  void claim_address(TimePoint now, LiveOutput& out);
  void answer_claim_request(const CanFrame& frame, LiveOutput& out);

  BusName bus_{};
  Flow flow_;
  Guard guard_;
  Asker asker_;
  std::optional<LiveSweep> sweep_;
  Output flow_out_;
  Plug plug_;
  std::optional<std::string> scan_wanted_;    ///< not recorded yet
  std::optional<std::string> scanning_;       ///< its beginning was written
  bool scan_end_asked_ = false;               ///< recorded, not yet written
  std::optional<TimePoint> advance_asked_;    ///< recorded, not yet written
  std::optional<TimePoint> again_at_;         ///< something was refused: nothing is recorded before
  std::optional<TimePoint> other_tester_at_;  ///< as last recorded
  std::optional<TimePoint> claimed_at_;       ///< our J1939 address, last
};

}  // namespace sumplog
