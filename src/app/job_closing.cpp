#include "app/job_closing.h"

#include <filesystem>

#include "app/job_finding.h"
#include "app/job_place.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "io/verify.h"

namespace sumplog {

std::vector<OpenItem> open_ones(const JobRecord& record) {
  std::vector<OpenItem> open;
  for (const OpenItem& one : record.open_items)
    if (one.state == OpenItemState::open) open.push_back(one);
  return open;
}

Fault open_items_fault(const std::vector<OpenItem>& open, const std::string& place) {
  std::string list;
  for (const OpenItem& one : open) {
    list += (list.empty() ? "" : "; ") + one.item;
    if (!one.text.empty()) list += " (" + one.text + ")";
  }
  return Fault{"still open: " + list, place,
               "enter open_item_done for each, or say who takes them over (--sign-over NAME)"};
}

std::vector<Entry> signed_over(const std::vector<OpenItem>& open, const std::string& by, TimePoint at) {
  std::vector<Entry> entries;
  for (const OpenItem& one : open)
    entries.push_back(Entry{at, random_entry_id(), std::string(kOpenItemSignedOver),
                            JsonLine().text("item", one.item).text("by", by).take()});
  return entries;
}

Result<std::string> closed_text(const std::string& path) {
  const auto verified = verify(path);
  if (!verified) return tl::unexpected(verified.error());
  if (verified->state != SealState::closed) return fault(verified->text(), path);
  const auto id = job_id_of(path);
  if (!id) return tl::unexpected(id.error());
  return JsonLine()
      .flag("closed", true)
      .text("job", *id)
      .text("file", std::filesystem::path(path).filename().string())
      .text("fingerprint", verified->fingerprint)
      .take();
}

}  // namespace sumplog
