#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/drawing/job_notes.h"
#include "core/job/job_settings.h"
#include "core/record/job_record.h"

namespace sumplog {

/// A photo as the report shows it.
struct ReportPhoto {
  PhotoRecord photo;
  std::string data_uri;  ///< "data:image/jpeg;base64,…"; empty: it cannot be shown
  std::string trouble;   ///< why not: 'photo "pan.jpg" is missing'
};

/// Everything that a report tells. Nothing of it is computed here.
struct ReportFacts {
  JobRecord record;
  JobConfiguration configuration;
  JobNotes notes;
  std::string file;         ///< name of the job file, without its folder
  std::string seals;        ///< "closed", "open", "torn", "changed" (docs/job_file.md)
  bool holds = true;        ///< nothing speaks against the file; otherwise nothing in it is told as kept
  std::string seals_text;   ///< the same as a sentence for the technician
  std::string fingerprint;  ///< of the last good seal; empty: there is none
  std::string program;      ///< that makes this report
  std::vector<ReportPhoto> photos;
  std::string whole_course;                ///< SVG; empty: no reading of the fluid
  std::vector<std::string> level_courses;  ///< SVG, one for each of the last level checks
  bool fahrenheit = false;
  std::string (*local)(TimePoint) = nullptr;  ///< "2025-11-25 10:15"
};

/// One HTML document without a script, a link to anything, or a request: first a sheet for the customer that fills one page of A4, then
/// the technician's pages. Temperatures are in the unit that is asked for; words of the record that carry °C stay as they are.
[[nodiscard]] std::string report_page(const ReportFacts& facts);

// Its two parts.
class HtmlWriter;
void write_customer_sheet(HtmlWriter& html, const ReportFacts& facts);
void write_technician_pages(HtmlWriter& html, const ReportFacts& facts);

/// The heading of the technician's first page.
inline constexpr char kTechnicianHeading[] = "For the technician";

}  // namespace sumplog
