#include "core/vehicle/hostile/rules.h"

#include <algorithm>

#include "core/capture/job_reader.h"
#include "core/item/item_text.h"
#include "core/item/json_line.h"
#include "core/journal/flow.h"
#include "core/vehicle/hostile/ear.h"
#include "core/vehicle/hostile/journal_text.h"

namespace sumplog::hostile {
namespace {

constexpr std::size_t kReportedLines = 12;
constexpr char kSameJournal[] = "the same journal";

}  // namespace

Replayed replay(const std::string& text) {
  Replayed replayed;
  Flow flow;
  Output out;
  const auto reader = make_job_reader();
  const auto take = [&] {
    while (const auto item = reader->next()) {
      out.clear();
      flow.on_item(*item, out);
      for (const Event& event : out.events) replayed.journal.push_back(journal_line(event));
      replayed.exchanges.insert(replayed.exchanges.end(), out.exchanges.begin(), out.exchanges.end());
    }
  };
  reader->on_bytes(text);
  take();
  reader->on_end();
  take();
  return replayed;
}

std::optional<Finding> judge_replay(const Trace& trace, const Replayed& replayed) {
  const std::size_t both = std::min(trace.journal.size(), replayed.journal.size());
  for (std::size_t i = 0; i < both; ++i)
    if (trace.journal[i] != replayed.journal[i])
      return Finding{kSameJournal, JournalText(trace.journal[i]).at(),
                     "live: " + trace.journal[i] + "\n  replayed: " + replayed.journal[i]};
  if (trace.journal.size() == replayed.journal.size()) return std::nullopt;
  const auto& longer = trace.journal.size() > both ? trace.journal : replayed.journal;
  return Finding{
      kSameJournal, JournalText(longer[both]).at(),
      std::string("only ") + (trace.journal.size() > both ? "live" : "replayed") + ": " + longer[both]};
}

std::optional<Finding> judge(const Plan& plan, const Trace& trace, const Replayed& replayed) {
  if (auto found = judge_replay(trace, replayed)) return found;
  if (auto found = judge_sent(plan, trace)) return found;
  if (auto found = judge_readings(plan, trace)) return found;
  if (auto found = judge_window(plan, trace)) return found;
  if (auto found = judge_losses(trace, replayed)) return found;
  return judge_calm(plan, trace);
}

std::string report_of(const Plan& plan, const Trace& trace, const Finding& finding) {
  const double after = in_seconds(finding.at - plan.scenario.start);
  std::string text = text_of(plan) + "\nbroken at " + seconds_text(finding.at) + " (" + fixed(after, 6) +
                     " s): " + finding.rule + "\n  " + finding.what + "\nlast lines of the journal:\n";
  std::size_t lines = 0;
  while (lines < trace.journal.size() && JournalText(trace.journal[lines]).at() <= finding.at) ++lines;
  for (std::size_t i = lines - std::min(lines, kReportedLines); i < lines; ++i)
    text += "  " + trace.journal[i] + "\n";
  text += "last lines of the job file:\n";
  const std::vector<TimePoint> times = core_times(trace.items);
  const auto items =
      static_cast<std::size_t>(std::upper_bound(times.begin(), times.end(), finding.at) - times.begin());
  for (std::size_t i = items - std::min(items, 2 * kReportedLines); i < items; ++i)
    for (const std::string& line : item_lines(trace.items[i])) text += "  " + line + "\n";
  return text + "again: sumplog simulate --hostile " + std::to_string(plan.seed) + "\n";
}

}  // namespace sumplog::hostile
