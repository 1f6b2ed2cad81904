#pragma once
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/item/item.h"
#include "io/recorder.h"
#include "io/web_message.h"

namespace sumplog {

/// An entry as a client wants it recorded; checked already.
struct EntryWish {
  std::string id;
  std::string name;
  std::string fields;  ///< one JSON object
};

/// A hash of what an entry says: the same for the same content, however its JSON is written: 38 is 38.0.
[[nodiscard]] std::string content_of(const std::string& name, const std::string& fields);
/// A repeated id with other content is a mistake.
[[nodiscard]] Fault taken_id(const std::string& id);
/// What is answered when the entry is on the disk: one JSON object.
[[nodiscard]] std::string recorded_text(const std::string& id, TimePoint at);

/// Takes entries of clients and answers when they are on the disk. A repeated id gets the first answer, also after a restart.
/// While the disk fails the entry is kept in memory and shown, and the answer is that it is not recorded yet.
class EntryDesk {
 public:
  using Submit = std::function<Result<void>(Item, Recorder::Token)>;
  explicit EntryDesk(Submit submit) : submit_(std::move(submit)) {}

  /// An entry of the job's past: it is on the disk.
  void remember(const Entry& entry);
  /// in   trouble  what the disk says while it fails; empty: it works
  void enter(const EntryWish& wish, TimePoint now, const std::string& trouble, WebReply reply);
  void on_synced(const std::vector<Recorder::Token>& tokens);
  /// Answers all who wait: the disk fails.
  void on_trouble(const std::string& trouble);
  /// Answers those who have waited for longer than a person does.
  void on_time(TimePoint now);
  /// When on_time is wanted.
  [[nodiscard]] std::optional<TimePoint> deadline() const;

 private:
  struct Known {
    TimePoint at{};
    std::string content;  ///< content_of()
    bool synced = false;
    std::vector<WebReply> waiting;
  };
  void answer(const std::string& id, Known& known) const;

  Submit submit_;
  std::map<std::string, Known, std::less<>> known_;
  std::map<Recorder::Token, std::string> unsynced_;  ///< id of each token
  Recorder::Token next_token_ = 1;
};

}  // namespace sumplog
