#include "core/drawing/report_page.h"

#include "core/drawing/html_writer.h"

namespace sumplog {
namespace {

// Sizes are those of paper; the sheet has to fit one page with every list as long as it may be (tests/report).
constexpr std::string_view kStyle = R"css(
@page { size: A4; margin: 11mm 13mm; }
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: #14181b; font: 9.2pt/1.28 "Liberation Sans", Arial, Helvetica, sans-serif; }
h1 { font-size: 16pt; line-height: 1.15; margin: 0 0 1mm; }
h2 { font-size: 10.5pt; line-height: 1.2; margin: 3mm 0 0.8mm; padding-bottom: 0.4mm; border-bottom: 0.3mm solid #14181b; break-after: avoid; }
h3 { font-size: 9.5pt; margin: 2mm 0 0.6mm; break-after: avoid; }
p { margin: 0.5mm 0; }
ul { margin: 0.5mm 0; padding-left: 4.5mm; }
table { border-collapse: collapse; width: 100%; margin: 0.6mm 0 1.2mm; }
th, td { text-align: left; vertical-align: top; padding: 0.35mm 2.5mm 0.35mm 0; }
td.short { white-space: nowrap; }
td.long, p, li { overflow-wrap: anywhere; }
thead th { border-bottom: 0.2mm solid #5b656b; font-size: 8.4pt; }
tbody tr { break-inside: avoid; }
.technician tbody tr + tr > * { border-top: 0.1mm solid #cdd3d6; }
th[scope=row] { width: 34mm; font-weight: normal; color: #454e53; }
.sheet { break-after: page; }
.sheet .lead { font-size: 8.8pt; color: #454e53; }
.pair { display: grid; grid-template-columns: 1fr 1fr; column-gap: 7mm; }
.steps { columns: 2; column-gap: 7mm; list-style: none; padding: 0; }
.steps li { break-inside: avoid; }
.answer { border: 0.5mm solid #14181b; padding: 1mm 2mm; margin: 1mm 0; break-inside: avoid; }
.answer strong { font-size: 12pt; }
.answer.no { border-style: dashed; }
.warning { border: 0.7mm solid #14181b; padding: 1mm 2mm; font-weight: bold; }
.photos { display: grid; grid-template-columns: repeat(4, 1fr); gap: 3mm; margin: 1mm 0; }
.photos figure { margin: 0; break-inside: avoid; }
.photos img { width: 100%; height: 24mm; object-fit: contain; background: #eef0f1; display: block; }
.photos .none { height: 24mm; border: 0.2mm dashed #5b656b; padding: 1mm; overflow: hidden; font-size: 8pt; }
.photos figcaption { font-size: 8pt; }
.technician .photos { grid-template-columns: 1fr 1fr; }
.technician .photos img, .technician .photos .none { height: 62mm; }
.fingerprint { font-family: "Liberation Mono", "DejaVu Sans Mono", monospace; font-size: 8.6pt; }
svg.course { width: 100%; height: auto; margin: 1mm 0; break-inside: avoid; }
svg .mark-text { paint-order: stroke; stroke: #fff; stroke-width: 3px; }
svg .window-band { fill: #2a7f62; }
svg .forecast { fill: #59636a; }
svg .coolant { stroke: #6e4300; stroke-opacity: 1; stroke-width: 1.5; }
svg .no-reading { fill: #14181b; }
@media screen { body { max-width: 196mm; margin: 0 auto; padding: 8mm; } .sheet { border-bottom: 1mm solid #14181b; padding-bottom: 6mm; margin-bottom: 8mm; } }
)css";

}  // namespace

std::string report_page(const ReportFacts& facts) {
  const std::string of = facts.record.plate.empty() ? facts.record.job : facts.record.plate;
  HtmlWriter html;
  html.raw("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>");
  html.text("Transmission fluid service, " + of);
  html.raw(
      "</title>\n<meta name=\"viewport\" content=\"width=device-width\">\n"
      // Nothing is fetched and nothing runs, whatever a job file holds.
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src "
      "'unsafe-inline'\">\n<style>");
  html.raw(kStyle);
  html.raw("</style>\n</head>\n<body>\n");
  write_customer_sheet(html, facts);
  write_technician_pages(html, facts);
  html.raw("</body>\n</html>\n");
  return html.take();
}

}  // namespace sumplog
