#include "app/entry_desk.h"

#include <nlohmann/json.hpp>

#include "core/item/json_line.h"
#include "io/http_status.h"
#include "io/sha256.h"

namespace sumplog {
namespace {

constexpr Duration kPatience =
    std::chrono::seconds{10};  // own choice; syncs of several seconds are seen on worn cards

WebAnswer not_yet(const std::string& what) {
  auto answer = web_fault(http_status::kUnavailable,
                          Fault{"not recorded yet: " + what,
                                {},
                                "it is kept in memory and written when the disk takes it; send it again "
                                "with the same id to learn when"});
  answer.headers.emplace_back("Retry-After", "2");
  return answer;
}

}  // namespace

std::string content_of(const std::string& name, const std::string& fields) {
  auto parsed = nlohmann::json::parse(fields, nullptr, false);
  for (auto& value : parsed)
    if (value.is_number()) value = value.get<double>();
  Sha256 hash;
  hash.update(name + '\n' + (parsed.is_discarded() ? fields : parsed.dump()));
  return hash.hex();
}

Fault taken_id(const std::string& id) {
  return {"another entry has this id already", "id " + id, "give each entry its own id"};
}

std::string recorded_text(const std::string& id, TimePoint at) {
  return JsonLine().text("id", id).time("t", at).flag("recorded", true).take();
}

void EntryDesk::remember(const Entry& entry) {
  known_.try_emplace(entry.id, Known{entry.at, content_of(entry.name, entry.fields), true, {}});
}

void EntryDesk::enter(const EntryWish& wish, TimePoint now, const std::string& trouble, WebReply reply) {
  const std::string content = content_of(wish.name, wish.fields);
  auto found = known_.find(wish.id);
  if (found == known_.end()) {
    const Recorder::Token token = next_token_++;
    if (auto taken = submit_(Entry{now, wish.id, wish.name, wish.fields}, token); !taken) {
      reply(web_fault(http_status::kUnavailable, taken.error()));
      return;
    }
    unsynced_.emplace(token, wish.id);
    found = known_.emplace(wish.id, Known{now, content, false, {}}).first;
  } else if (found->second.content != content) {
    reply(web_fault(http_status::kConflict, taken_id(wish.id)));
    return;
  }
  Known& known = found->second;
  known.waiting.push_back(std::move(reply));
  if (known.synced) {
    answer(wish.id, known);
  } else if (!trouble.empty()) {
    on_trouble(trouble);
  }
}

void EntryDesk::answer(const std::string& id, Known& known) const {
  for (const WebReply& reply : std::exchange(known.waiting, {}))
    reply(WebAnswer{200, "application/json", recorded_text(id, known.at) + "\n", {}});
}

void EntryDesk::on_synced(const std::vector<Recorder::Token>& tokens) {
  for (const Recorder::Token token : tokens) {
    const auto found = unsynced_.find(token);
    if (found == unsynced_.end()) continue;
    Known& known = known_.find(found->second)->second;
    known.synced = true;
    answer(found->second, known);
    unsynced_.erase(found);
  }
}

void EntryDesk::on_trouble(const std::string& trouble) {
  for (const auto& [token, id] : unsynced_)
    for (const WebReply& reply : std::exchange(known_.find(id)->second.waiting, {})) reply(not_yet(trouble));
}

void EntryDesk::on_time(TimePoint now) {
  for (const auto& [token, id] : unsynced_) {
    Known& known = known_.find(id)->second;
    if (known.waiting.empty() || now < known.at + kPatience) continue;
    for (const WebReply& reply : std::exchange(known.waiting, {})) reply(not_yet("the disk is slow"));
  }
}

std::optional<TimePoint> EntryDesk::deadline() const {
  for (const auto& [token, id] : unsynced_)
    if (const Known& known = known_.find(id)->second; !known.waiting.empty()) return known.at + kPatience;
  return std::nullopt;
}

}  // namespace sumplog
