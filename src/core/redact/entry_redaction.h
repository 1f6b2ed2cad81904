#pragma once
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/job/job_settings.h"
#include "core/redact/secret_texts.h"
#include "core/redact/vin_fillers.h"

namespace sumplog {

/// Takes out of entries what names a vehicle, a person or a workshop. What is not known to be harmless goes: only numbers, yes and
/// no, and the texts of a short list stay (stage, part, fluid, …).
///   plate, customer, technician, complaint, by     left out
///   vin                                            the VIN's filler
///   position, condition                            stay where the job's service file or decoder has this word
///   every other text                               "removed"
///   id, names of open items                        a running number
///   a photo                                        the entry is left out
class EntryRedaction {
 public:
  /// First pass: hears all entries of the job.
  void learn(const Entry& entry);
  /// After every learn().
  void keep_words_of(const JobConfiguration& configuration);
  /// After it. in  vins  those that were read from the vehicle among them
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
  std::set<std::string, std::less<>>
      positions_;  ///< of the selector, as service file and decoders write them
  std::set<std::string, std::less<>> conditions_;  ///< of the service file, to be ticked
};

}  // namespace sumplog
