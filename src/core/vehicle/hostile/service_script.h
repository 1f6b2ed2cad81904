#pragma once
#include "core/vehicle/random.h"
#include "core/vehicle/scenario.h"

namespace sumplog::hostile {

/// Gives the scenario its vehicle and what is done to it: bus, units, temperatures, engine, selector. Invented.
/// in   scenario       start, lasts and seed are set; `lasts` grows when it becomes a whole service
///      whole_service  drain, refill, exchange, engine off in between; 35…50 minutes
void make_vehicle(Scenario& scenario, Random& random, bool whole_service);

}  // namespace sumplog::hostile
