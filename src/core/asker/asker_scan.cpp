#include <algorithm>

#include "core/asker/asker.h"

// What the asker does for a scan of fault codes.

namespace sumplog {

void Asker::remember(const Exchange& exchange) {
  if (exchange.result == ExchangeResult::silent || exchange.request.bus != settings_.bus) return;
  if (scan_) scan_->on_exchange(exchange);
  note_heard(exchange, heard_);
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
