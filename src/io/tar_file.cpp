#include "io/tar_file.h"

#include <archive.h>
#include <archive_entry.h>
#include <fcntl.h>

#include <cerrno>
#include <chrono>
#include <new>
#include <utility>
#include <vector>

#include "core/item/json_line.h"
#include "core/item/member_name.h"
#include "io/durable_file.h"

namespace sumplog {
namespace {

constexpr std::size_t kBlock = 64U << 10;             // bytes read at once
constexpr std::uint64_t kLargestMember = 1ULL << 33;  // bytes; ustar, 11 octal digits
constexpr int kMode = 0644;

struct FreeEntry {
  void operator()(archive_entry* entry) const { archive_entry_free(entry); }
};

std::string error_of(archive* handle) {
  const char* text = archive_error_string(handle);
  return text == nullptr ? "no reason is known" : text;
}

}  // namespace

// --- writing ---

void TarWriter::Free::operator()(archive* handle) const {
  // Without the rest of a member that was not ended: it may be gigabytes of zeros.
  archive_write_fail(handle);
  // libarchive frees the buffer of a failed archive here alone, not in archive_write_free().
  archive_write_close(handle);
  archive_write_free(handle);
}

TarWriter::TarWriter(ByteSink sink) : sink_(std::move(sink)), archive_(archive_write_new()) {
  if (!archive_) throw std::bad_alloc();
  archive_write_set_format_ustar(archive_.get());
  archive_write_add_filter_none(archive_.get());
  const auto take = [](archive* handle, void* self, const void* bytes, std::size_t count) -> la_ssize_t {
    auto& writer = *static_cast<TarWriter*>(self);
    auto taken = writer.sink_(std::string_view(static_cast<const char*>(bytes), count));
    if (taken) return static_cast<la_ssize_t>(count);
    writer.sink_fault_ = taken.error();
    archive_set_error(handle, EIO, "the sink");
    return -1;
  };
  archive_write_open(archive_.get(), this, nullptr, take, nullptr);
}

TarWriter::~TarWriter() {
  // What is still to be written when the writer was not closed is not wanted any more.
  sink_ = [](std::string_view) -> Result<void> { return {}; };
}

Result<void> TarWriter::failed(std::string_view doing) {
  if (sink_fault_) return tl::unexpected(*sink_fault_);
  return fault(std::string(doing) + ": " + error_of(archive_.get()), name_);
}

Result<void> TarWriter::begin(const TarMember& member) {
  name_ = member.name;
  left_ = member.size;
  if (!is_safe_member_name(member.name))
    return fault("is no name for a member of an archive", member.name, "rename it");
  if (member.size >= kLargestMember) return fault("is too large for an archive: 8 GiB or more", member.name);
  const std::unique_ptr<archive_entry, FreeEntry> entry(archive_entry_new());
  if (!entry) throw std::bad_alloc();
  archive_entry_set_pathname(entry.get(), member.name.c_str());
  archive_entry_set_size(entry.get(), static_cast<la_int64_t>(member.size));
  archive_entry_set_filetype(entry.get(), AE_IFREG);
  archive_entry_set_perm(entry.get(), kMode);
  archive_entry_set_mtime(entry.get(),
                          static_cast<std::time_t>(
                              std::chrono::floor<std::chrono::seconds>(member.at).time_since_epoch().count()),
                          0);
  if (archive_write_header(archive_.get(), entry.get()) != ARCHIVE_OK) return failed("cannot begin a member");
  return {};
}

Result<void> TarWriter::write(std::string_view bytes) {
  if (bytes.size() > left_) return fault("grew while it was written to the archive", name_);
  left_ -= bytes.size();
  while (!bytes.empty()) {
    const auto count = archive_write_data(archive_.get(), bytes.data(), bytes.size());
    if (count <= 0) return failed("cannot write a member");
    bytes.remove_prefix(static_cast<std::size_t>(count));
  }
  return {};
}

Result<void> TarWriter::end() {
  if (left_ > 0) return fault("shrank while it was written to the archive", name_);
  if (archive_write_finish_entry(archive_.get()) != ARCHIVE_OK) return failed("cannot end a member");
  return {};
}

Result<void> TarWriter::close() {
  if (archive_write_close(archive_.get()) != ARCHIVE_OK) return failed("cannot end the archive");
  return {};
}

// --- reading ---

void TarReader::Free::operator()(archive* handle) const {
  archive_read_free(handle);
}

TarReader::TarReader(std::string path) : path_(std::move(path)), archive_(archive_read_new()) {
  if (!archive_) throw std::bad_alloc();
  archive_read_support_format_tar(archive_.get());
  archive_read_support_filter_none(archive_.get());
}

tl::unexpected<Fault> TarReader::damaged() const {
  return fault("the archive is damaged: " + error_of(archive_.get()), path_);
}

Result<TarReader> TarReader::open(const std::string& path) {
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot open the archive", path));
  TarReader reader(path);
  // What is no archive is said by next().
  (void)archive_read_open_filename(reader.archive_.get(), path.c_str(), kBlock);
  return reader;
}

Result<std::optional<TarMember>> TarReader::next() {
  archive_entry* entry = nullptr;
  const int outcome = archive_read_next_header(archive_.get(), &entry);
  if (outcome == ARCHIVE_EOF) return std::nullopt;
  if (outcome != ARCHIVE_OK) return damaged();
  const char* name = archive_entry_pathname(entry);
  TarMember member{name == nullptr ? "" : name, 0, {}};
  if (!is_safe_member_name(member.name))
    return fault("a member's name leads out of the folder: " + json_string(member.name), path_,
                 "do not unpack it");
  const bool plain = archive_entry_filetype(entry) == AE_IFREG && archive_entry_hardlink(entry) == nullptr &&
                     archive_entry_symlink(entry) == nullptr && archive_entry_sparse_count(entry) == 0;
  if (!plain || archive_entry_size(entry) < 0)
    return fault(json_string(member.name) + " is not a plain file", path_, "do not unpack it");
  member.size = static_cast<std::uint64_t>(archive_entry_size(entry));
  return member;
}

Result<void> TarReader::read(const ByteSink& take) {
  std::vector<char> block(kBlock);
  while (true) {
    const auto count = archive_read_data(archive_.get(), block.data(), block.size());
    if (count == 0) return {};
    if (count < 0) return damaged();
    if (auto taken = take(std::string_view(block.data(), static_cast<std::size_t>(count))); !taken)
      return taken;
  }
}

bool begins_like_tar(std::string_view first_bytes) {
  constexpr std::size_t kMagicAt = 257;         // POSIX.1-1988 ustar, `magic`
  constexpr std::string_view kMagic = "ustar";  // the same
  return first_bytes.size() >= kMagicAt + kMagic.size() &&
         first_bytes.substr(kMagicAt, kMagic.size()) == kMagic;
}

}  // namespace sumplog
