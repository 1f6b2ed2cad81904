#include "io/job_index.h"

#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <chrono>
#include <ctime>
#include <thread>
#include <utility>

#include "core/item/compared_form.h"
#include "core/item/json_line.h"
#include "io/durable_file.h"
#include "io/index_schema.h"
#include "io/postgresql_backend.h"

namespace sumplog {
namespace {

constexpr int kTries = 5;  // two programs that make the tables at the same time are in each other's way once
constexpr auto kPause = std::chrono::milliseconds(100);

/// A value of one column; nothing is NULL.
using Value = std::optional<std::string>;

Value text(const std::string& value) {
  return value.empty() ? Value{} : Value{value};
}
Value number(const std::optional<double>& value) {
  constexpr int kDecimals = 4;
  return value ? Value{fixed(*value, kDecimals)} : Value{};
}
template <class Number>
Value whole(Number value) {
  return std::to_string(value);
}
Value flag(bool value) {
  return value ? "1" : "0";
}
Value time(const std::optional<TimePoint>& at) {
  return at ? Value{index_time(*at)} : Value{};
}

/// A statement that is prepared once; its values are texts, which both databases turn into the type of the column.
class Prepared {
 public:
  Prepared(soci::session& sql, const std::string& statement, std::size_t values)
      : values_(values), known_(values, soci::i_null), statement_(sql) {
    for (std::size_t i = 0; i < values; ++i) statement_.exchange(soci::use(values_[i], known_[i]));
    statement_.alloc();
    statement_.prepare(statement);
    statement_.define_and_bind();
  }
  void run(const std::vector<Value>& values) {
    for (std::size_t i = 0; i < values.size(); ++i) {
      values_[i] = values[i].value_or("");
      known_[i] = values[i] ? soci::i_ok : soci::i_null;
    }
    statement_.execute(true);
  }

 private:
  std::vector<std::string> values_;
  std::vector<soci::indicator> known_;
  soci::statement statement_;
};

template <std::size_t N>
std::string insert_into(std::string_view table, const std::array<std::string_view, N>& columns) {
  std::string names;
  std::string places;
  for (std::size_t i = 0; i < N; ++i) {
    names += (i == 0 ? "" : ", ") + std::string(columns[i]);
    places += (i == 0 ? ":v" : ", :v") + std::to_string(i);
  }
  return "INSERT INTO " + std::string(table) + " (" + names + ") VALUES (" + places + ")";
}

std::string insert_or_replace_job() {
  std::string statement = insert_into("job", kJobColumns) + " ON CONFLICT (id) DO UPDATE SET ";
  for (std::size_t i = 1; i < kJobColumns.size(); ++i) {
    const std::string name(kJobColumns[i]);
    statement += (i == 1 ? "" : ", ") + name + " = excluded." + name;
  }
  return statement;
}

/// Text in which % and _ mean themselves, behind LIKE … ESCAPE '!'.
std::string plain_in_like(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '%' || c == '_' || c == '!') out += '!';
    out += c;
  }
  return out;
}

std::string small(std::string text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return text;
}

Fault fault_of(const std::exception& error, std::string_view doing, const IndexPlace& place) {
  std::string why = error.what();
  for (char& c : why)
    if (c == '\n' || c == '\t') c = ' ';
  while (why.ends_with(' ')) why.pop_back();
  const bool no_database =
      why.find("not a database") != std::string::npos || why.find("malformed") != std::string::npos;
  const std::string way_out =
      no_database ? "it is no index, or a damaged one: remove it, then sumplog jobs rebuild"
      : place.is_server()
          ? "the jobs are in their files all the same; when the server is back, they are entered"
          : "check the folder, or name another index with --index";
  return Fault{std::string(doing) + ": " + why, place.shown(), way_out};
}

}  // namespace

std::string index_time(TimePoint at) {
  constexpr std::int64_t kSecond_us = 1000000;
  const auto seconds = static_cast<std::time_t>(micros(at) / kSecond_us);
  std::tm utc{};
  gmtime_r(&seconds, &utc);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%d %H:%M:%S", &utc);
  return text;
}

std::string IndexPlace::shown() const {
  const std::size_t host = text.find('@');
  const std::size_t user = text.find("://");
  if (!is_server() || host == std::string::npos) return text;
  const std::size_t password = text.find(':', user + 3);
  if (password == std::string::npos || password > host) return text;
  return text.substr(0, password) + text.substr(host);
}

class JobIndex::Session {
 public:
  /// in   server  SOCI's part for a server; nullptr for a file
  Session(IndexPlace place, const soci::backend_factory* server)
      : place_(std::move(place)), server_(server) {}

  void connect() {
    if (server_ != nullptr) {
      // A server that is away is said to be so after seconds, not minutes, also in the middle of the work.
      const bool has_options = place_.text.find('?') != std::string::npos;
      sql_.open(*server_, place_.text + (has_options ? "&" : "?") +
                              "connect_timeout=5&keepalives_idle=10&keepalives_interval=5&keepalives_count=3&"
                              "tcp_user_timeout=20000&application_name=sumplog");
      sql_ << "SET client_min_messages TO warning";
    } else {
      sql_.open(soci::sqlite3, "timeout=10 db=\"" + place_.text + "\"");
      // The index can be made anew, so it need not wait for the disk.
      sql_ << "PRAGMA synchronous = off";
    }
  }

  void make_tables() {
    begin();
    for (const std::string_view table : kIndexTables) sql_ << std::string(table);
    int rows = 0;
    sql_ << "SELECT COUNT(*) FROM sumplog_index", soci::into(rows);
    if (rows == 0) sql_ << "INSERT INTO sumplog_index (version) VALUES (" << kIndexVersion << ")";
    commit();
  }

  int version() {
    int version = 0;
    sql_ << "SELECT MAX(version) FROM sumplog_index", soci::into(version);
    return version;
  }

  void begin() { sql_ << (place_.is_server() ? "BEGIN" : "BEGIN IMMEDIATE"); }
  void commit() { sql_ << "COMMIT"; }
  void roll_back() { sql_ << "ROLLBACK"; }

  void put(const IndexedJob& job) {
    if (!job_) {
      job_ = std::make_unique<Prepared>(sql_, insert_or_replace_job(), kJobColumns.size());
      vin_ = std::make_unique<Prepared>(sql_, insert_into("vin", kVinColumns), kVinColumns.size());
      code_ = std::make_unique<Prepared>(sql_, insert_into("code", kCodeColumns), kCodeColumns.size());
      fluid_ = std::make_unique<Prepared>(sql_, insert_into("fluid", kFluidColumns), kFluidColumns.size());
    }
    prepare_forgetting();
    job_->run({job.id,
               job.bay,
               job.folder,
               job.file,
               whole(job.bytes),
               whole(job.modified_us),
               text(job.fingerprint),
               job.state,
               text(job.program),
               text(job.time_zone),
               time(job.began),
               time(job.ended),
               text(job.plate),
               text(compared_form(job.plate)),
               flag(job.vin_mismatch),
               number(job.odometer_km),
               text(job.transmission),
               text(job.unit),
               text(job.conditions),
               text(job.thermometer),
               number(job.temp_out_c),
               number(job.temp_in_c),
               text(job.level_seen),
               whole(job.open_items),
               flag(job.redacted)});
    forget_details(job.id);
    for (const IndexedVin& vin : job.vins) vin_->run({job.id, vin.source, vin.vin, compared_form(vin.vin)});
    for (const IndexedCode& code : job.codes)
      code_->run({job.id, code.scan, code.ecu, code.code, text(code.status)});
    for (const IndexedFluid& fluid : job.fluids)
      fluid_->run(
          {job.id, fluid.use, text(fluid.part), text(fluid.fluid), text(fluid.batch), number(fluid.litres)});
  }

  void remove(const std::string& id) {
    prepare_forgetting();
    forget_details(id);
    forget_[3]->run({id});
  }

  /// Every row as texts; NULL is empty.
  std::vector<std::vector<std::string>> rows(const std::string& statement, std::vector<std::string> values,
                                             std::size_t columns) {
    std::vector<std::string> row(columns);
    std::vector<soci::indicator> known(columns, soci::i_null);
    soci::statement query(sql_);
    for (std::size_t i = 0; i < columns; ++i) query.exchange(soci::into(row[i], known[i]));
    for (std::string& value : values) query.exchange(soci::use(value));
    query.alloc();
    query.prepare(statement);
    query.define_and_bind();
    std::vector<std::vector<std::string>> all;
    query.execute();
    while (query.fetch()) {
      all.push_back(row);
      for (std::size_t i = 0; i < columns; ++i)
        if (known[i] != soci::i_ok) all.back()[i].clear();
    }
    return all;
  }

  [[nodiscard]] const IndexPlace& place() const { return place_; }

 private:
  void prepare_forgetting() {
    if (!forget_.empty()) return;
    for (const char* statement : {"DELETE FROM vin WHERE job_id = :id", "DELETE FROM code WHERE job_id = :id",
                                  "DELETE FROM fluid WHERE job_id = :id", "DELETE FROM job WHERE id = :id"})
      forget_.push_back(std::make_unique<Prepared>(sql_, statement, 1));
  }
  void forget_details(const std::string& id) {
    for (std::size_t i = 0; i < 3; ++i) forget_[i]->run({id});
  }

  IndexPlace place_;
  const soci::backend_factory* server_;
  soci::session sql_;
  // Statements go before their session.
  std::unique_ptr<Prepared> job_;
  std::unique_ptr<Prepared> vin_;
  std::unique_ptr<Prepared> code_;
  std::unique_ptr<Prepared> fluid_;
  std::vector<std::unique_ptr<Prepared>> forget_;
};

JobIndex::JobIndex(std::unique_ptr<Session> session) : session_(std::move(session)) {}
JobIndex::~JobIndex() = default;
JobIndex::JobIndex(JobIndex&&) noexcept = default;
JobIndex& JobIndex::operator=(JobIndex&&) noexcept = default;

Result<JobIndex> JobIndex::open(const IndexPlace& place) {
  if (place.text.find("://") != std::string::npos && !place.is_server())
    return fault("is neither a file nor postgresql://…", place.shown(), "name one of the two with --index");
  if (place.text.find('"') != std::string::npos && !place.is_server())
    return fault("a quotation mark cannot stand in the name of an index", place.text,
                 "name another one with --index");
  if (!place.is_server())
    if (auto made = make_folder(folder_of(place.text), DiskCalls{}); !made)
      return tl::unexpected(made.error());
  const soci::backend_factory* server = nullptr;
  if (place.is_server()) {
    const auto backend = postgresql_backend();
    if (!backend) return fault(backend.error().what, place.shown(), backend.error().way_out);
    server = *backend;
  }
  auto session = std::make_unique<Session>(place, server);
  try {
    bool connected = false;
    for (int attempt = 1;; ++attempt) {
      try {
        connected = false;
        session->connect();
        connected = true;
        session->make_tables();
        break;
      } catch (const std::exception&) {
        // A server that is away is told at once; whoever makes tables at the same time is done in a moment.
        if (attempt == kTries || (place.is_server() && !connected)) throw;
        std::this_thread::sleep_for(kPause);
        session = std::make_unique<Session>(place, server);
      }
    }
    const int version = session->version();
    if (version != kIndexVersion)
      return fault("its tables have version " + std::to_string(version) + ", this program knows " +
                       std::to_string(kIndexVersion),
                   place.shown(), "remove it (docs/index.md), then sumplog jobs rebuild");
  } catch (const std::exception& error) {
    return tl::unexpected(fault_of(error, "cannot open the index", place));
  }
  return JobIndex(std::move(session));
}

Result<void> JobIndex::put(std::span<const IndexedJob> jobs) {
  try {
    session_->begin();
    for (const IndexedJob& job : jobs) session_->put(job);
    session_->commit();
    return {};
  } catch (const std::exception& error) {
    return tl::unexpected(fault_of(error, "cannot write to the index", session_->place()));
  }
}

Result<void> JobIndex::remove(std::span<const std::string> ids) {
  try {
    session_->begin();
    for (const std::string& id : ids) session_->remove(id);
    session_->commit();
    return {};
  } catch (const std::exception& error) {
    return tl::unexpected(fault_of(error, "cannot write to the index", session_->place()));
  }
}

Result<std::vector<KnownFile>> JobIndex::known_files(const std::string& bay, const std::string& folder) {
  try {
    std::vector<KnownFile> files;
    for (auto& row :
         session_->rows("SELECT id, file, bytes, modified_us FROM job WHERE bay = :bay AND folder = :folder",
                        {bay, folder}, 4))
      files.push_back({row[0], row[1], std::stoull(row[2]), std::stoll(row[3])});
    return files;
  } catch (const std::exception& error) {
    return tl::unexpected(fault_of(error, "cannot read the index", session_->place()));
  }
}

Result<std::vector<FoundJob>> JobIndex::find(const JobQuery& query) {
  std::string where;
  std::vector<std::string> values;
  const auto condition = [&](const std::string& text, std::initializer_list<std::string> with) {
    where += (where.empty() ? " WHERE " : " AND ") + text;
    values.insert(values.end(), with);
  };
  if (const std::string key = compared_form(query.plate); !query.plate.empty())
    condition("plate_key = :plate", {key});
  if (const std::string key = compared_form(query.vin); !query.vin.empty())
    condition("EXISTS (SELECT 1 FROM vin v WHERE v.job_id = job.id AND v.vin_key LIKE :vin ESCAPE '!')",
              {"%" + plain_in_like(key)});
  if (!query.code.empty())
    condition(
        "EXISTS (SELECT 1 FROM code c WHERE c.job_id = job.id AND (LOWER(c.code) = :code OR LOWER(c.code) "
        "LIKE "
        ":code_and_more ESCAPE '!'))",
        {small(query.code), plain_in_like(small(query.code)) + "-%"});
  if (!query.fluid.empty())
    condition(
        "EXISTS (SELECT 1 FROM fluid f WHERE f.job_id = job.id AND LOWER(f.fluid) LIKE :fluid ESCAPE '!')",
        {"%" + plain_in_like(small(query.fluid)) + "%"});
  if (query.conditions == "none")
    condition("conditions IS NULL", {});
  else if (!query.conditions.empty())
    condition("conditions = :conditions", {query.conditions});
  if (query.from) condition("began >= :from_time", {index_time(*query.from)});
  if (query.to) condition("began < :to_time", {index_time(*query.to)});
  const std::string statement =
      "SELECT id, bay, folder, file, state, began, ended, plate, "
      "(SELECT MIN(v.vin) FROM vin v WHERE v.job_id = job.id AND v.source = 'typed'), "
      "(SELECT MIN(v.vin) FROM vin v WHERE v.job_id = job.id AND v.source = 'read'), "
      "vin_mismatch, odometer_km, transmission, unit, conditions, thermometer, temp_out_c, temp_in_c, "
      "level_seen, "
      "open_items, redacted, fingerprint FROM job" +
      where + " ORDER BY began DESC, id";
  constexpr std::size_t kColumns = 22;
  try {
    std::vector<FoundJob> found;
    for (auto& r : session_->rows(statement, std::move(values), kColumns))
      found.push_back({r[0],  r[1],  r[2],  r[3],  r[4],  r[5],  r[6],  r[7],  r[8],  r[9],  r[10],
                       r[11], r[12], r[13], r[14], r[15], r[16], r[17], r[18], r[19], r[20], r[21]});
    return found;
  } catch (const std::exception& error) {
    return tl::unexpected(fault_of(error, "cannot search the index", session_->place()));
  }
}

}  // namespace sumplog
