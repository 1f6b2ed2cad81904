#include <algorithm>

#include "core/asker/asker.h"
#include "core/asker/back_off.h"
#include "core/isotp/pci.h"
#include "core/j1939/identifier.h"

// The asker's side of SAE J1939: groups that are asked for, and what is heard of others.

namespace sumplog {
namespace {

// SAE J1939-21, acknowledgement: control byte, three bytes, address of the requester, PGN, low byte first.
constexpr std::uint32_t kAcknowledgement = 0xE800;
constexpr std::uint8_t kGroupUnknown = 1;  // NACK
constexpr std::uint8_t kAccessDenied = 2;
constexpr std::size_t kAcknowledgementGroupAt = 5;

}  // namespace

void Asker::on_frame(const CanFrame& frame, bool ours) {
  if (frame.kind != FrameKind::data) return;
  const auto parts = split_identifier(frame.id);
  if (ours) {
    if (address_at_ && frame.id == extended_id(kAddressClaimId))
      address_at_ = std::max(*address_at_, frame.at);
    for (Outstanding& one : outstanding_) {
      const auto& payload = one.request.payload;
      if (one.group && !one.echo && one.request.to.id == frame.id &&
          std::equal(payload.begin(), payload.end(), frame.data().begin(), frame.data().end())) {
        one.echo = frame.at;
        unsent_ = 0;
        return;
      }
    }
    return;
  }
  const bool by_a_tool =
      parts && (parts->source == kJ1939ServiceTool || parts->source == kJ1939ServiceTool + 1);
  if (book_.classify(frame.id) || by_a_tool) return;
  const bool was_off = presence_.off();
  presence_.on_own_frame(frame.at);
  if (was_off && !presence_.off()) revive(frame.at);
  if (parts && parts->group == kAcknowledgement) on_acknowledgement(frame);
}

bool Asker::is_group_answer(const Outstanding& outstanding, const Endpoint& unit) const {
  const auto parts = split_identifier(unit.id);
  if (!parts) return false;
  const std::uint8_t asked = group_destination(outstanding.request.to.id);
  const std::uint32_t group = plan_.tasks()[outstanding.tasks.front()].id;
  return parts->group == group && (asked == kJ1939Global || asked == parts->source);
}

void Asker::on_group_message(const Message& message) {
  for (std::size_t i = 0; i < outstanding_.size(); ++i) {
    Outstanding& one = outstanding_[i];
    if (!one.group || !one.echo || !is_group_answer(one, message.from)) continue;
    budget_.spend(longest_group_bits(message.payload.size()), message.at);
    one.busy.erase(message.from);
    if (one.waits_for_all) {
      one.answered = true;
      continue;
    }
    Task& task = plan_.tasks()[one.tasks.front()];
    task.failures = 0;
    if (task.period == Duration::zero()) task.state = TaskState::done;
    outstanding_.erase(outstanding_.begin() + static_cast<std::ptrdiff_t>(i));
    on_answered(message.at);
    return;
  }
}

void Asker::on_acknowledgement(const CanFrame& frame) {
  const auto bytes = frame.data();
  if (bytes.size() != kClassicLength) return;
  const auto group =
      static_cast<std::uint32_t>(bytes[kAcknowledgementGroupAt] | bytes[kAcknowledgementGroupAt + 1] << 8 |
                                 bytes[kAcknowledgementGroupAt + 2] << 16);
  const auto source = static_cast<std::uint8_t>(frame.id.value);
  for (std::size_t i = 0; i < outstanding_.size(); ++i) {
    const Outstanding& one = outstanding_[i];
    // One unit's "I do not have it" says nothing about the others when all were asked.
    if (!one.group || group_destination(one.request.to.id) != source) continue;
    Task& task = plan_.tasks()[one.tasks.front()];
    if (task.id != group || (bytes[0] != kGroupUnknown && bytes[0] != kAccessDenied)) continue;
    task.state = TaskState::denied;
    task.why =
        bytes[0] == kGroupUnknown ? "the unit does not have this group" : "the unit denies access to it";
    outstanding_.erase(outstanding_.begin() + static_cast<std::ptrdiff_t>(i));
    on_answered(frame.at);
    return;
  }
}

void Asker::finish_group(const Outstanding& outstanding, TimePoint now) {
  Task& task = plan_.tasks()[outstanding.tasks.front()];
  if (outstanding.answered) {
    task.failures = 0;
    task.state = TaskState::done;
    on_answered(now);
    return;
  }
  fail(task, std::max(task.due, now + back_off(task.failures + 1, most_back_off(task.kind))));
  presence_.on_nothing(now);
}

bool Asker::wants_address() const {
  return !address_at_ && link_up_ && !presence_.off() &&
         std::any_of(plan_.tasks().begin(), plan_.tasks().end(), [](const Task& task) {
           return task.kind == TaskKind::group && task.state == TaskState::active;
         });
}

void Asker::on_address_refused(GuardRefusal refusal) {
  for (Task& task : plan_.tasks()) {
    if (task.kind != TaskKind::group) continue;
    task.state = TaskState::denied;
    task.why = text_of(refusal);
  }
}

}  // namespace sumplog
