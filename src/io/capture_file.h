#pragma once
#include <memory>
#include <string>

#include "core/capture/reader.h"
#include "core/item/item.h"
#include "core/item/result.h"
#include "io/file_descriptor.h"

namespace sumplog {

/// A capture or job file on a disk, or on standard input ("-"), item by item. Pipes work: nothing is read
/// twice. Memory is bounded by one block and one record, whatever the length of the input.
class CaptureFile {
 public:
  /// Opens it and recognises its form, for which it waits for 4 KiB or the end of the input.
  /// err  no such file · a folder · no permission · empty · a form that is not known; each with its place
  [[nodiscard]] static Result<CaptureFile> open(const std::string& path);

  [[nodiscard]] CaptureForm form() const { return form_; }
  /// The path, or "standard input".
  [[nodiscard]] const std::string& place() const { return place_; }

  /// The next item, for the caller to read or to move away; it stays until the next call.
  /// out  nullptr at the end of the input; then ask ending()
  /// err  the input cannot be read any more (a disk that fails)
  [[nodiscard]] Result<Item*> next() {
    if (Item* const item = reader_->next()) return item;
    return next_of_more();
  }
  [[nodiscard]] Ending ending() const { return reader_->ending(); }

 private:
  CaptureFile(FileDescriptor file, int fd, std::string place);
  /// The first item of what is read now.
  [[nodiscard]] Result<Item*> next_of_more();
  /// Reads one block into block_. out  false at the end of the input
  [[nodiscard]] Result<bool> read_block();

  FileDescriptor file_;  ///< empty for standard input, which is not ours to close
  int fd_ = -1;
  std::string place_;
  CaptureForm form_ = CaptureForm::candump;
  std::unique_ptr<CaptureReader> reader_;
  std::string block_;
  bool ended_ = false;
};

}  // namespace sumplog
