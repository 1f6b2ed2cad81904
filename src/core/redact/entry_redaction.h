#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/redact/secret_texts.h"
#include "core/redact/vin_fillers.h"

namespace sumplog {

/// Takes out of entries what names a vehicle, a person or a workshop. What is not known to be harmless goes: only numbers, yes and
/// no, and the texts of a short list stay (stage, part, fluid, position, …).
///   plate, customer, technician, complaint, by     left out
///   vin                                            the VIN's filler
///   every other text                               "removed"
///   id, names of open items                        a running number
///   a photo                                        the entry is left out
class EntryRedaction {
 public:
  /// First pass: hears all entries of the job.
  void learn(const Entry& entry);
  /// After every learn(). in  vins  those that were read from the vehicle among them
  /// out  nothing: the entry is left out
  [[nodiscard]] std::optional<Entry> redacted(const Entry& entry, VinFillers& vins);

  [[nodiscard]] const SecretTexts& secrets() const { return secrets_; }
  [[nodiscard]] SecretTexts& secrets() { return secrets_; }
  /// VINs as typed, in order.
  [[nodiscard]] const std::vector<std::string>& typed_vins() const { return typed_vins_; }

 private:
  SecretTexts secrets_;
  std::vector<std::string> typed_vins_;
  std::map<std::string, std::string> items_;  ///< typed open items and their new names
  std::map<std::string, std::string> ids_;
};

}  // namespace sumplog
