#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/vehicle/drivetrain.h"
#include "core/vehicle/fault_memory.h"
#include "core/vehicle/scenario.h"

namespace sumplog {

/// True for services that only read: 01 02 03 06 07 09 0A 19 21 22. Everything else changes a state, or
/// might.
[[nodiscard]] bool only_reads(std::uint8_t service);

/// What a unit answers to one request: SAE J1979 services 01 and 09, ISO 14229 service 22, and from its fault memory what
/// fault_services.h says. Pure.
/// in   request     service id first, at least one byte; functional: it went to all units
/// out  the whole answer, service id + 40 hex or 7F first; nothing when the unit says nothing
/// err  negative responses: 11 service unknown · 13 length · 31 no such identifier · the code of a
/// RefusedRecord. Functional
///      requests get neither 11, 12, 31 nor 7E, 7F. Unknown PIDs and information types of J1979 are left out;
///      when nothing is left there is no answer.
/// src  SAE J1979; ISO 14229-1, negative responses to functional requests
[[nodiscard]] std::optional<std::vector<std::uint8_t>> answer(const UnitPlan& unit, const std::string& vin,
                                                              const FaultMemory& memory,
                                                              const Drivetrain& drivetrain,
                                                              std::span<const std::uint8_t> request,
                                                              bool functional);

/// 7F, service, code.
[[nodiscard]] std::vector<std::uint8_t> negative_response(std::uint8_t service, std::uint8_t code);

}  // namespace sumplog
