#include <algorithm>
#include <array>
#include <chrono>
#include <map>
#include <set>
#include <utility>

#include "core/vehicle/hostile/ear.h"
#include "core/vehicle/hostile/journal_text.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

constexpr char kEndings[] = "every request has one ending";
constexpr char kFrames[] = "every lost frame is counted";
constexpr char kAnswers[] = "every answer is used or counted";

// A request is that long without an ending: "pending" again and again has no limit in the journal.
constexpr Duration kOpen = 1s;  // docs/decisions.md "A request is open for a second"

// docs/journal.md: words of loss lines that count frames of the ISO 15765-2 transport
constexpr std::array<std::string_view, 15> kTransportLosses{"frame without control information",
                                                            "frame of a reserved type",
                                                            "single frame of an impossible length",
                                                            "first frame that does not fill its frame",
                                                            "first frame announcing too few bytes",
                                                            "first frame announcing too many bytes",
                                                            "first frame to a functional address",
                                                            "consecutive frame without a first frame",
                                                            "consecutive frame of an impossible length",
                                                            "consecutive frame out of order",
                                                            "flow control that cannot be read",
                                                            "transfer interrupted by a new message",
                                                            "transfer timed out (N_Cr)",
                                                            "transfer unfinished at the end",
                                                            "too many transfers at once"};

/// Loss lines of the journal, by their words.
struct Losses {
  std::map<std::string, std::uint64_t> transport;  ///< frames by unit
  std::uint64_t unasked = 0;
  std::uint64_t unanswered = 0;
  std::uint64_t overrun = 0;
  bool too_many = false;
  std::set<std::pair<TimePoint, std::string>> refused;  ///< when, and of whom, because of too many transfers

  explicit Losses(const std::vector<std::string>& journal) {
    for (const std::string& line : journal) {
      const JournalText text(line);
      if (!text.is("loss")) continue;
      const std::string_view why = text.text("why");
      const auto frames = static_cast<std::uint64_t>(text.number("frames").value_or(0));
      if (why == "answer without a request") ++unasked;
      if (why == "request without an answer") ++unanswered;
      if (why == "receive buffer overrun") overrun += frames;
      if (why == "too many transfers at once") {
        too_many = true;
        refused.emplace(text.at(), text.text("ecu"));
      }
      if (std::find(kTransportLosses.begin(), kTransportLosses.end(), why) != kTransportLosses.end())
        transport[std::string(text.text("ecu"))] += frames;
    }
  }
};

struct Asked {
  TimePoint at{};
  TimePoint first_at{};
  CanId id{};
  std::vector<std::uint8_t> payload;
};

/// What the ear makes of the items.
struct Account {
  Ear ear;
  std::vector<Asked> requests;
  std::uint64_t answers = 0;
  std::uint64_t pending = 0;  ///< of them
  std::uint64_t overrun = 0;
  TimePoint end{};

  explicit Account(const std::vector<Item>& items) {
    const std::vector<TimePoint> times = core_times(items);
    end = times.empty() ? TimePoint{} : times.back();
    for (std::size_t i = 0; i < items.size(); ++i) {
      if (const auto* drops = std::get_if<ReceiveDrops>(&items[i])) overrun += drops->frames;
      const auto* frame = std::get_if<CanFrame>(&items[i]);
      if (frame == nullptr) continue;
      auto heard = ear.on_frame(*frame, times[i]);
      if (!heard) continue;
      if (heard->way == Way::from_unit) {
        ++answers;
        if (heard->is_pending()) ++pending;
      } else if (!wants_no_answer(heard->payload)) {
        requests.push_back({times[i], heard->first_at, heard->id, std::move(heard->payload)});
      }
    }
  }

 private:
  /// ISO 14229-1, TesterPresent with suppressPosRspMsgIndicationBit.
  static bool wants_no_answer(const std::vector<std::uint8_t>& request) {
    return request.size() >= 2 && request[0] == 0x3E && (request[1] & 0x80U) != 0;
  }
};

std::optional<Finding> judge_frames(const Account& account, const Losses& losses) {
  std::set<std::string> units;
  for (const auto& [unit, count] : account.ear.counts()) units.insert(unit);
  for (const auto& [unit, frames] : losses.transport) units.insert(unit);
  for (const std::string& unit : units) {
    const auto count = account.ear.counts().find(unit);
    const auto said = losses.transport.find(unit);
    // At the end a transfer that runs is lost, too.
    const std::uint64_t lost =
        count == account.ear.counts().end() ? 0 : count->second.lost() + count->second.running;
    const std::uint64_t told = said == losses.transport.end() ? 0 : said->second;
    // Where more units speak at once than anybody follows, whole messages are refused as well, and counted.
    if (losses.too_many ? told < lost : told != lost)
      return Finding{kFrames, account.end,
                     unit + ": " + std::to_string(lost) + " frames belong to nothing, the journal counts " +
                         std::to_string(told)};
  }
  if (account.overrun != losses.overrun)
    return Finding{kFrames, account.end,
                   "the kernel dropped " + std::to_string(account.overrun) + " frames, the journal counts " +
                       std::to_string(losses.overrun)};
  return std::nullopt;
}

std::optional<Finding> judge_endings(const Account& account, const Losses& losses,
                                     const std::vector<Exchange>& exchanges) {
  using Key = std::pair<TimePoint, CanId>;
  std::map<Key, std::vector<const Exchange*>> endings;
  for (const Exchange& one : exchanges) endings[{one.asked_at, one.request.id}].push_back(&one);
  std::map<Key, std::size_t> requests;
  for (const Asked& one : account.requests) ++requests[{one.at, one.id}];
  for (const auto& [key, ends] : endings)
    if (!requests.contains(key))
      return Finding{kEndings, key.first,
                     "an ending without a request on " + unit_text(key.second, std::nullopt)};
  // One whose first frame was refused was never heard as a request.
  std::set<Key> refused;
  for (const Asked& one : account.requests)
    if (losses.refused.contains({one.first_at, unit_text(one.id, std::nullopt)}))
      refused.insert({one.at, one.id});
  // The last request on each identifier may still be open when the job ends.
  std::map<CanId, TimePoint> last;
  for (const Asked& one : account.requests) last[one.id] = one.at;
  for (const auto& [key, count] : requests) {
    const auto found = endings.find(key);
    const std::size_t ends = found == endings.end() ? 0 : found->second.size();
    const std::string name = unit_text(key.second, std::nullopt);
    if (refused.contains(key)) continue;
    if (ends == 0 && key.first != last[key.second])
      return Finding{kEndings, key.first, "no ending of the request on " + name};
    if (ends == 0) continue;
    if (way_of(key.second) == Way::to_unit && ends > count)
      return Finding{kEndings, key.first, std::to_string(ends) + " endings of the request on " + name};
    std::map<std::string, std::size_t> units;
    for (const Exchange* one : found->second)
      if (one->unit && ++units[unit_text(one->unit->id, one->unit->address)] > count)
        return Finding{kEndings, key.first, "two endings for one unit of the request on " + name};
  }
  return std::nullopt;
}

/// A request that has no ending although it is old, and nobody asked for more time.
std::optional<Finding> judge_forgotten(const Account& account, const Losses& losses,
                                       const std::vector<Exchange>& exchanges) {
  if (account.pending > 0) return std::nullopt;  // without a limit, as said above
  std::set<std::pair<TimePoint, CanId>> ended;
  for (const Exchange& one : exchanges) ended.insert({one.asked_at, one.request.id});
  for (const Asked& one : account.requests) {
    constexpr Duration kTransfer = 5s;  // an answer of several frames may just be coming
    if (account.end - one.at > kOpen + kTransfer && !ended.contains({one.at, one.id}) &&
        !losses.refused.contains({one.first_at, unit_text(one.id, std::nullopt)}))
      return Finding{kEndings, one.at, "forgotten: the request on " + unit_text(one.id, std::nullopt)};
  }
  return std::nullopt;
}

std::optional<Finding> judge_answers(const Account& account, const Losses& losses,
                                     const std::vector<Exchange>& exchanges) {
  std::uint64_t used = 0;
  std::uint64_t pending = 0;
  std::uint64_t silent = 0;
  for (const Exchange& one : exchanges) {
    pending += static_cast<std::uint64_t>(one.pending);
    if (one.result == ExchangeResult::silent)
      ++silent;
    else
      ++used;
  }
  if (silent != losses.unanswered)
    return Finding{kAnswers, account.end,
                   std::to_string(silent) + " requests without an answer, the journal tells of " +
                       std::to_string(losses.unanswered)};
  const std::uint64_t known = used + pending + losses.unasked;
  // "Pending" of a request that is open at the end is in no ending yet.
  const bool fits = known == account.answers ||
                    (known < account.answers && account.answers - known <= account.pending - pending);
  if (losses.too_many) return std::nullopt;  // whole messages may have been refused
  if (!fits)
    return Finding{kAnswers, account.end,
                   std::to_string(account.answers) + " whole answers, " + std::to_string(used) + " used, " +
                       std::to_string(pending) + " pending, " + std::to_string(losses.unasked) +
                       " not asked for"};
  return std::nullopt;
}

}  // namespace

std::optional<Finding> judge_losses(const Trace& trace, const Replayed& replayed) {
  const Account account(trace.items);
  const Losses losses(trace.journal);
  if (auto found = judge_frames(account, losses)) return found;
  if (auto found = judge_endings(account, losses, replayed.exchanges)) return found;
  if (auto found = judge_forgotten(account, losses, replayed.exchanges)) return found;
  return judge_answers(account, losses, replayed.exchanges);
}

}  // namespace sumplog::hostile
