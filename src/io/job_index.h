#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/result.h"
#include "core/item/time.h"

namespace sumplog {

// The index of all jobs: a database that is made from job files alone and can be thrown away. SQLite or PostgreSQL, one schema, one
// code path through SOCI. Tables and columns: docs/index.md. A value that is not known is empty here and NULL there.

struct IndexedCode {
  std::string scan;  ///< "before", "after"
  std::string ecu;
  std::string code;
  std::string status;
};
struct IndexedFluid {
  std::string use;  ///< "specified", "out", "in"
  std::string part;
  std::string fluid;
  std::string batch;
  std::optional<double> litres;
};
struct IndexedVin {
  std::string source;  ///< "typed", "read"
  std::string vin;
};

/// One job as the index holds it.
struct IndexedJob {
  std::string id;
  std::string bay;     ///< whose folder it is: the computer, unless named
  std::string folder;  ///< absolute
  std::string file;    ///< name in the folder
  std::uint64_t bytes = 0;
  std::int64_t modified_us = 0;  ///< of the file, Unix epoch
  std::string fingerprint;       ///< of the last good seal
  std::string state;             ///< "closed", "open", "torn", "changed" (docs/job_file.md)
  std::string program;
  std::string time_zone;
  std::optional<TimePoint> began;
  std::optional<TimePoint> ended;
  std::string plate;
  std::vector<IndexedVin> vins;
  bool vin_mismatch = false;
  std::optional<double> odometer_km;
  std::string transmission;
  std::string unit;
  std::string conditions;   ///< "kept", "not kept"
  std::string thermometer;  ///< "measured", "by hand"
  std::optional<double> temp_out_c;
  std::optional<double> temp_in_c;
  std::string level_seen;
  std::uint64_t open_items = 0;
  bool redacted = false;
  std::vector<IndexedCode> codes;
  std::vector<IndexedFluid> fluids;
};

/// A file as the index knows it: when one of these differs, the file is to be read again.
struct KnownFile {
  std::string id;
  std::string file;
  std::uint64_t bytes = 0;
  std::int64_t modified_us = 0;
};

/// What is looked for; an empty one fits everything, several must fit together.
struct JobQuery {
  std::string plate;       ///< without blanks, hyphens and case
  std::string vin;         ///< the same; typed or read; its end is enough
  std::string code;        ///< "P0711" finds "P0711-1F" too
  std::string fluid;       ///< part of a specification, in any case
  std::string conditions;  ///< "kept", "not kept"; "none": no verdict
  std::optional<TimePoint> from;
  std::optional<TimePoint> to;  ///< before this
};

/// One job that was found: the columns of table `job` and its VINs, as text; empty: not known.
struct FoundJob {
  std::string id, bay, folder, file, state, began, ended, plate, vin, vin_read, vin_mismatch, odometer_km,
      transmission, unit, conditions, thermometer, temp_out_c, temp_in_c, level_seen, open_items, redacted,
      fingerprint;
};

/// Where an index is: "postgresql://…", or the path of an SQLite file.
struct IndexPlace {
  std::string text;
  [[nodiscard]] bool is_server() const {
    return text.starts_with("postgresql://") || text.starts_with("postgres://");
  }
  /// Without the password of a server, for messages.
  [[nodiscard]] std::string shown() const;
};

/// One connection to an index. After a failure it is of no use any more: open another one. For one thread at a time.
class JobIndex {
 public:
  /// Connects, and makes the tables where there are none.
  /// err  cannot be reached · not an index · made by another version, each with the way out
  [[nodiscard]] static Result<JobIndex> open(const IndexPlace& place);
  ~JobIndex();
  JobIndex(JobIndex&&) noexcept;
  JobIndex& operator=(JobIndex&&) noexcept;

  /// Writes jobs in one transaction: all of them or none. A job that is there already is replaced, by its id.
  [[nodiscard]] Result<void> put(std::span<const IndexedJob> jobs);
  [[nodiscard]] Result<void> remove(std::span<const std::string> ids);
  [[nodiscard]] Result<std::vector<KnownFile>> known_files(const std::string& bay, const std::string& folder);
  /// Newest first.
  [[nodiscard]] Result<std::vector<FoundJob>> find(const JobQuery& query);

 private:
  class Session;
  explicit JobIndex(std::unique_ptr<Session> session);
  std::unique_ptr<Session> session_;
};

/// "2025-11-25 10:15:00", UTC: how times stand in the index.
[[nodiscard]] std::string index_time(TimePoint at);

}  // namespace sumplog
