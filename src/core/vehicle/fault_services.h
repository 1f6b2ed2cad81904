#pragma once
#include <cstdint>
#include <span>

#include "core/vehicle/fault_memory.h"
#include "core/vehicle/service_answer.h"

namespace sumplog {

/// True for the services of SAE J1979 and ISO 14229-1 that read or clear a fault memory: 02 03 04 07 0A, 14 19.
[[nodiscard]] bool is_fault_service(std::uint8_t service);

/// What a unit answers from its fault memory to one request. Pure: 04 and 14 are refused, so nothing changes.
/// in   request  service id first, one of is_fault_service
/// out  the whole answer; nothing where the unit says nothing: a freeze frame parameter that is not there, and a positive
///      answer to 19 whose suppress bit is set
/// err  negative responses: 11 service not of this unit's family · 12 sub-function · 13 length · 22 clearing · 31 no such code
///      or record (checked in the order of ISO 14229-1)
/// src  SAE J1979 and ISO 15765-4: on CAN 43, 47 and 4A begin with a count; ISO 14229-1, ReadDTCInformation
[[nodiscard]] ServiceAnswer answer_from_memory(const FaultMemory& memory,
                                               std::span<const std::uint8_t> request);

}  // namespace sumplog
