#include "app/qr_text.h"

#include <qrencode.h>

#include <memory>

namespace sumplog {
namespace {

constexpr int kQuiet = 4;  // modules around the code: ISO/IEC 18004 asks for four

}  // namespace

std::string qr_text(const std::string& content) {
  const std::unique_ptr<QRcode, void (*)(QRcode*)> code(
      QRcode_encodeString8bit(content.c_str(), 0, QR_ECLEVEL_L), &QRcode_free);
  if (!code) return {};
  const int width = code->width;
  const auto light = [&](int x, int y) {
    if (x < 0 || y < 0 || x >= width || y >= width) return true;
    return (code->data[y * width + x] & 1U) == 0;
  };
  std::string text;
  for (int y = -kQuiet; y < width + kQuiet; y += 2) {
    for (int x = -kQuiet; x < width + kQuiet; ++x) {
      const bool upper = light(x, y);
      const bool lower = light(x, y + 1);
      text += upper ? (lower ? "█" : "▀") : (lower ? "▄" : " ");
    }
    text += '\n';
  }
  return text;
}

}  // namespace sumplog
