#pragma once
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/item/result.h"
#include "core/item/time.h"

// Handles of libarchive, kept out of every file but tar_file.cpp.
struct archive;

namespace sumplog {

/// Takes bytes in order. err  the place where they go cannot take them
using ByteSink = std::function<Result<void>(std::string_view)>;

/// One plain file in a tar archive.
struct TarMember {
  std::string name;
  std::uint64_t size = 0;  ///< bytes
  TimePoint at{};          ///< written in whole seconds; not read back
};

/// Writes a tar archive whose bytes follow from its members alone: owner 0 without names, mode 0644.
/// src  POSIX.1-1988 ustar; libarchive
class TarWriter {
 public:
  explicit TarWriter(ByteSink sink);
  ~TarWriter();
  TarWriter(const TarWriter&) = delete;
  TarWriter& operator=(const TarWriter&) = delete;

  /// err  the name or the size does not fit the form (100 bytes, 8 GiB) · the sink
  [[nodiscard]] Result<void> begin(const TarMember& member);
  /// err  more bytes than were announced · the sink
  [[nodiscard]] Result<void> write(std::string_view bytes);
  /// Ends a member. err  fewer bytes than were announced · the sink
  [[nodiscard]] Result<void> end();
  /// Ends the archive. err  the sink
  [[nodiscard]] Result<void> close();

 private:
  struct Free {
    void operator()(archive* handle) const;
  };
  [[nodiscard]] Result<void> failed(std::string_view doing);

  ByteSink sink_;
  std::optional<Fault> sink_fault_;
  std::string name_;
  std::uint64_t left_ = 0;
  std::unique_ptr<archive, Free> archive_;
};

/// Reads a tar archive member by member. Memory is bounded by one block. It writes nothing to a disk.
class TarReader {
 public:
  /// err  no such file · no permission
  [[nodiscard]] static Result<TarReader> open(const std::string& path);

  /// The next member; its content is passed over unless read() was called.
  /// out  nothing at the end
  /// err  damaged · a member that is no plain file (a link, a folder, a device) · a name that leads out of the folder
  [[nodiscard]] Result<std::optional<TarMember>> next();
  /// Gives all bytes of the member to `take`.
  /// err  damaged, cut · what `take` says
  [[nodiscard]] Result<void> read(const ByteSink& take);

 private:
  struct Free {
    void operator()(archive* handle) const;
  };
  explicit TarReader(std::string path);
  [[nodiscard]] tl::unexpected<Fault> damaged() const;

  std::string path_;
  std::unique_ptr<archive, Free> archive_;
};

/// True when the file begins like a tar archive of this kind: "ustar" at byte 257.
[[nodiscard]] bool begins_like_tar(std::string_view first_bytes);

}  // namespace sumplog
