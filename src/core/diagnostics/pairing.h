#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/diagnostics/exchange.h"
#include "core/isotp/addressing.h"
#include "core/isotp/message.h"

namespace sumplog {

struct PairingStep {
  std::vector<Exchange> exchanges;
  std::vector<TransportLoss> losses;  ///< an answer that no request asked for
};

/// Pairs requests with the answers of each unit, from what was seen on the bus: our own requests and those of
/// any other tester alike. Nothing of two units or two buses mixes. A 0x78 keeps the request open for P2*.
/// src  SAE J1979 (service echo), ISO 14229-1 (negative response 7F, 0x78), ISO 15765-4 (functional: every
/// unit may answer)
class Pairing {
 public:
  explicit Pairing(AddressBook book);
  [[nodiscard]] PairingStep on_message(const Message& message);
  /// An answer of several frames of that unit is on its way: its request waits for the end, not for P2. Said for each frame.
  void on_transfer(const Endpoint& unit);
  /// The transfer broke off: the request stays unanswered.
  [[nodiscard]] PairingStep on_transfer_lost(const Endpoint& unit, TimePoint at);
  [[nodiscard]] PairingStep on_deadline(TimePoint now);
  [[nodiscard]] std::optional<TimePoint> deadline() const { return due_; }

 private:
  struct Asked {
    Message request;
    TimePoint deadline{};
    std::map<Endpoint, int> pending;  ///< units that sent 0x78, and how often
    std::set<Endpoint> receiving;     ///< units whose answer of several frames is on its way
    std::set<Endpoint> done;          ///< units that answered or refused: each does so once
    bool functional = false;
  };
  [[nodiscard]] std::optional<TimePoint> earliest() const;
  [[nodiscard]] Asked* find(const Message& answer);
  void on_request(const Message& message, bool functional, PairingStep& step);
  void on_response(const Message& message, PairingStep& step);
  void on_answer(const Message& message, PairingStep& step);
  /// After every change: what is remembered of the open questions follows from them.
  void note_change();
  void close(const Endpoint& key, TimePoint at, PairingStep& step);
  void close_overdue(TimePoint at, PairingStep& step);

  AddressBook book_;
  std::map<Endpoint, Asked> asked_;       ///< by request endpoint
  std::optional<TimePoint> due_;          ///< earliest() since the last change
  std::optional<Endpoint> transferring_;  ///< whose transfer is noted, when nothing has changed since
  /// Units that answered a question to all units when it was last asked: one that is missing now is silent.
  std::map<std::pair<Endpoint, std::vector<std::uint8_t>>, std::set<Endpoint>> regulars_;
};

}  // namespace sumplog
