#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/decoder/toml_value.h"
#include "core/item/result.h"

namespace sumplog {

/// The first mistake of a file. Later ones are not kept: they are often only its consequence.
class FirstMistake {
 public:
  explicit FirstMistake(std::string file_name) : file_name_(std::move(file_name)) {}
  void add(int line, std::string what, std::string way_out = {});
  [[nodiscard]] bool any() const { return fault_.has_value(); }
  [[nodiscard]] const Fault& fault() const { return *fault_; }

 private:
  std::string file_name_;
  std::optional<Fault> fault_;
};

/// Strict view of one table: unknown keys, wrong types and numbers outside a range are mistakes with their
/// line. A getter gives nothing when the key is absent or wrong; wrong is noted. A `need_` getter also notes
/// an absent key and then gives a placeholder, so that reading code needs no branch for each key: ask
/// `mistakes` before the values are used.
class TomlTable {
 public:
  TomlTable(const TomlValue& table, FirstMistake& mistakes) : table_(&table), mistakes_(&mistakes) {}

  void allow_only(std::span<const std::string_view> keys) const;
  [[nodiscard]] bool has(std::string_view key) const { return table_->find(key) != nullptr; }
  [[nodiscard]] int line() const { return table_->line; }
  [[nodiscard]] int line_of(std::string_view key) const;  ///< of the table when the key is absent

  [[nodiscard]] std::optional<std::string> text(std::string_view key) const;  ///< not empty
  [[nodiscard]] std::optional<std::int64_t> integer(std::string_view key, std::int64_t low,
                                                    std::int64_t high) const;
  [[nodiscard]] std::optional<double> number(std::string_view key, double low,
                                             double high) const;  ///< finite
  [[nodiscard]] std::optional<bool> flag(std::string_view key) const;
  [[nodiscard]] std::optional<std::pair<double, double>> interval(
      std::string_view key) const;  ///< [low, high], low < high
  [[nodiscard]] std::vector<std::string> texts(
      std::string_view key) const;  ///< at least one when the key is there
  [[nodiscard]] std::optional<TomlTable> table(std::string_view key) const;
  [[nodiscard]] std::vector<TomlTable> tables(std::string_view key) const;
  [[nodiscard]] const TomlValue* value(std::string_view key) const { return table_->find(key); }
  /// Position in `words` of the text that the key holds.
  [[nodiscard]] std::optional<std::size_t> word(std::string_view key,
                                                std::span<const std::string_view> words) const;

  void need(std::string_view key, std::string way_out = {}) const;  ///< notes an absent key
  [[nodiscard]] std::string need_text(std::string_view key) const;
  [[nodiscard]] std::int64_t need_integer(std::string_view key, std::int64_t low, std::int64_t high) const;
  [[nodiscard]] double need_number(std::string_view key, double low, double high) const;

  void mistake(int line, std::string what, std::string way_out = {}) const {
    mistakes_->add(line, std::move(what), std::move(way_out));
  }
  [[nodiscard]] FirstMistake& mistakes() const { return *mistakes_; }
  [[nodiscard]] const std::vector<TomlMember>& members() const { return table_->members; }

 private:
  const TomlValue* of_kind(std::string_view key, TomlValue::Kind kind) const;
  void wrong_kind(std::string_view key, int line, std::string_view wanted, TomlValue::Kind found) const;
  const TomlValue* table_;
  FirstMistake* mistakes_;
};

/// Shortest decimal text of a number: "0.03125", "-40".
[[nodiscard]] std::string number_text(double value);
/// "0x1A05"
[[nodiscard]] std::string hex_number(std::int64_t value);
/// "P, R, N, D"
[[nodiscard]] std::string list_text(std::span<const std::string_view> words);

}  // namespace sumplog
