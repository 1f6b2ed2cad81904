#include <algorithm>

#include "core/asker/asker.h"
#include "core/diagnostics/service.h"

// What the asker does for a scan of fault codes.

namespace sumplog {
namespace {

constexpr std::size_t kMostHeard = 512;  // ours: as many units as the transport knows

}  // namespace

void Asker::remember(const Exchange& exchange) {
  if (scan_) scan_->on_exchange(exchange);
  if (!exchange.unit || exchange.result == ExchangeResult::silent || exchange.request.bus != settings_.bus)
    return;
  if (heard_.size() >= kMostHeard && !heard_.contains(*exchange.unit)) return;
  bool& emission_related = heard_[*exchange.unit];
  if (exchange.result == ExchangeResult::answered && exchange.asked[0] <= service::kPermanentCodes)
    emission_related = true;
}

void Asker::on_scan_begun(TimePoint now) {
  stop_scan();
  scan_.emplace(decoders_, settings_.bus, heard_, now);
}

void Asker::stop_scan() {
  plan_.drop_of_scan("the scan was stopped");
  scan_.reset();
}

std::pair<std::size_t, std::size_t> Asker::scan_progress() const {
  const auto known = static_cast<std::size_t>(std::count_if(plan_.tasks().begin(), plan_.tasks().end(),
                                                            [](const Task& task) { return task.of_scan; }));
  return {known - plan_.open_of_scan(), known};
}

void Asker::take_scan_questions(TimePoint now) {
  if (!scan_ || !greeted_) return;
  const bool ignition_off = presence_.off();
  if (ignition_off || scan_->takes_too_long(now)) {
    plan_.drop_of_scan(ignition_off ? "no unit answers" : "the scan took too long");
    scan_->give_up();
    return;
  }
  for (Task& task : scan_->take(plan_.open_of_scan(), now)) plan_.add_of_scan(std::move(task));
}

}  // namespace sumplog
