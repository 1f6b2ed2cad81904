#pragma once
#include <array>
#include <string_view>

namespace sumplog {

// The tables of the index. The same text for SQLite and PostgreSQL. What each column holds: docs/index.md.

/// Of the tables; another number in the database is another form.
inline constexpr int kIndexVersion = 1;

inline constexpr std::array<std::string_view, 11> kIndexTables{
    "CREATE TABLE IF NOT EXISTS sumplog_index (version INTEGER NOT NULL)",
    "CREATE TABLE IF NOT EXISTS job ("
    "id VARCHAR(64) PRIMARY KEY, bay TEXT NOT NULL, folder TEXT NOT NULL, file TEXT NOT NULL, "
    "bytes BIGINT NOT NULL, modified_us BIGINT NOT NULL, fingerprint TEXT, state TEXT NOT NULL, program "
    "TEXT, "
    "time_zone TEXT, began TEXT, ended TEXT, plate TEXT, plate_key TEXT, vin_mismatch INTEGER, "
    "odometer_km DOUBLE PRECISION, transmission TEXT, unit TEXT, conditions TEXT, thermometer TEXT, "
    "temp_out_c DOUBLE PRECISION, temp_in_c DOUBLE PRECISION, level_seen TEXT, open_items INTEGER, redacted "
    "INTEGER)",
    "CREATE TABLE IF NOT EXISTS vin (job_id VARCHAR(64) NOT NULL REFERENCES job(id), source TEXT NOT NULL, "
    "vin TEXT NOT NULL, vin_key TEXT NOT NULL)",
    "CREATE TABLE IF NOT EXISTS code (job_id VARCHAR(64) NOT NULL REFERENCES job(id), scan TEXT NOT NULL, "
    "ecu TEXT NOT NULL, code TEXT NOT NULL, status TEXT)",
    "CREATE TABLE IF NOT EXISTS fluid (job_id VARCHAR(64) NOT NULL REFERENCES job(id), use TEXT NOT NULL, "
    "part TEXT, "
    "fluid TEXT, batch TEXT, litres DOUBLE PRECISION)",
    "CREATE INDEX IF NOT EXISTS job_plate ON job (plate_key)",
    "CREATE INDEX IF NOT EXISTS job_began ON job (began)",
    "CREATE INDEX IF NOT EXISTS vin_job ON vin (job_id)",
    "CREATE INDEX IF NOT EXISTS code_job ON code (job_id)",
    "CREATE INDEX IF NOT EXISTS code_code ON code (code)",
    "CREATE INDEX IF NOT EXISTS fluid_job ON fluid (job_id)"};

// The order in which values are bound.
inline constexpr std::array<std::string_view, 25> kJobColumns{
    "id",           "bay",         "folder",       "file",    "bytes",      "modified_us", "fingerprint",
    "state",        "program",     "time_zone",    "began",   "ended",      "plate",       "plate_key",
    "vin_mismatch", "odometer_km", "transmission", "unit",    "conditions", "thermometer", "temp_out_c",
    "temp_in_c",    "level_seen",  "open_items",   "redacted"};
inline constexpr std::array<std::string_view, 4> kVinColumns{"job_id", "source", "vin", "vin_key"};
inline constexpr std::array<std::string_view, 5> kCodeColumns{"job_id", "scan", "ecu", "code", "status"};
inline constexpr std::array<std::string_view, 6> kFluidColumns{"job_id", "use",   "part",
                                                               "fluid",  "batch", "litres"};

}  // namespace sumplog
