#include "core/job/fluid_sums.h"

#include <algorithm>
#include <utility>

#include "core/fluid/exchange_estimate.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/job/entry_fields.h"

namespace sumplog {
namespace {

std::optional<ImbalanceLimits> limits_of(const std::optional<ServiceFile>& service) {
  if (!service || !service->imbalance) return std::nullopt;
  return service->imbalance->value;
}

bool opens_a_line(std::string_view stage) {
  return stage == "line opened" || stage == "exchange";
}

}  // namespace

FluidSums::FluidSums(std::optional<ServiceFile> service)
    : service_(std::move(service)), imbalance_(limits_of(service_)) {}

std::optional<DensityAt15> FluidSums::said_density() const {
  if (!service_ || !service_->density_kg_per_m3) return std::nullopt;
  return DensityAt15{service_->density_kg_per_m3->value};
}

void FluidSums::count(bool exchange_news, TimePoint now) {
  counted_ = counted(book_.volumes(), said_density());
  counted_.assumes.insert(counted_.assumes.begin(), book_.problems().begin(), book_.problems().end());
  imbalance_.on_volumes(counted_.volumes, exchange_news, now);
}

void FluidSums::on_entry(const Entry& entry, std::string_view stage) {
  const bool begins = entry.name == kStageBegun;
  if ((begins || entry.name == kStageEnded) && opens_a_line(text_field(entry, "stage").value_or("")))
    flow_awaited_ = begins;
  if (entry.name == kExchangeWanted) {
    wanted_share_ = number_field(entry, "share");
    if (wanted_share_ && !(*wanted_share_ >= 0 && *wanted_share_ <= 1)) wanted_share_.reset();
    wanted_wrong_ = !wanted_share_;
    exchange_due_ = true;
  }
  if (book_.on_entry(entry, stage)) {
    const auto& volumes = book_.volumes();
    const auto own = std::find_if(volumes.begin(), volumes.end(),
                                  [&](const FluidVolume& one) { return one.id == entry.id; });
    count(own->part == kExchangePart, entry.at);
    balance_due_ = true;
    exchange_due_ = true;
  }
}

BalanceEvent FluidSums::balance(TimePoint now) const {
  BalanceEvent out = balance_of(book_.volumes(), counted_, said_density());
  out.at = now;
  out.exchange_ahead_l = imbalance_.ahead_l();
  if (const auto level = imbalance_.level()) out.exchange_state = text_of(*level);
  return out;
}

void FluidSums::say_flow(TimePoint now, std::vector<Event>& events) {
  if (!flow_awaited_ || !fluid_c_) return;
  flow_awaited_ = false;
  if (!service_ || !service_->bypass) return;
  const Celsius opens = service_->bypass->value;
  if (Celsius{*fluid_c_} >= opens) return;
  events.emplace_back(CueEvent{now, "little_flow",
                               "Fluid " + fixed(*fluid_c_, 0) + " °C, below " + fixed(opens.value, 0) +
                                   " °C: the thermal bypass is shut, little or no flow expected. Do not run "
                                   "the pump dry."});
}

void FluidSums::update(TimePoint now, std::vector<Event>& events) {
  if (imbalance_.update(now, events)) balance_due_ = true;
  if (balance_due_) events.emplace_back(balance(now));
  if (exchange_due_ && service_) {
    auto estimate = exchange_estimate(counted_.volumes, *service_, wanted_share_);
    if (estimate && (!estimate->steps.empty() || wanted_share_ || wanted_wrong_)) {
      estimate->at = now;
      if (wanted_wrong_) estimate->assumes.emplace_back("the share that is wanted is no number from 0 to 1");
      events.emplace_back(std::move(*estimate));
    }
  }
  balance_due_ = false;
  exchange_due_ = false;
  say_flow(now, events);
}

}  // namespace sumplog
