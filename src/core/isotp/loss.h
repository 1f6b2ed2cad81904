#pragma once
#include <string_view>

namespace sumplog {

// Why the ISO 15765-2 transport dropped frames: the words of `loss` lines. "Goes on" says whether a transfer
// that was running from the same endpoint survives; the frames are those that are lost with the line.
//
//   words                                        frames                 a running transfer
//   frame without control information            1                      goes on
//   frame of a reserved type                     1                      goes on
//   single frame of an impossible length         1                      goes on
//   first frame that does not fill its frame     1                      goes on
//   first frame announcing too few bytes         1                      goes on
//   first frame announcing too many bytes        1 + those of the run   ends
//   first frame to a functional address          1                      (there is none)
//   consecutive frame without a first frame      1                      (there is none)
//   consecutive frame of an impossible length    1                      goes on
//   consecutive frame out of order               1 + those of the run   ends
//   flow control that cannot be read             1                      goes on
//   transfer interrupted by a new message        those of the run       ends
//   transfer timed out (N_Cr)                    those of the run       ends
//   transfer unfinished at the end               those of the run       ends
//   too many transfers at once                   1                      (of others: go on)
//
// One frame brings at most one loss. When it ends a running transfer and is itself refused, the frames of
// both are counted under the reason of the refused frame.

inline constexpr std::string_view kLossNoControl = "frame without control information";
inline constexpr std::string_view kLossReservedType = "frame of a reserved type";
inline constexpr std::string_view kLossSingleLength = "single frame of an impossible length";
inline constexpr std::string_view kLossFirstNotFull = "first frame that does not fill its frame";
inline constexpr std::string_view kLossFirstTooSmall = "first frame announcing too few bytes";
inline constexpr std::string_view kLossFirstTooLarge = "first frame announcing too many bytes";
inline constexpr std::string_view kLossFirstFunctional = "first frame to a functional address";
inline constexpr std::string_view kLossNoFirst = "consecutive frame without a first frame";
inline constexpr std::string_view kLossConsecutiveLength = "consecutive frame of an impossible length";
inline constexpr std::string_view kLossOutOfOrder = "consecutive frame out of order";
inline constexpr std::string_view kLossFlowControl = "flow control that cannot be read";
inline constexpr std::string_view kLossInterrupted = "transfer interrupted by a new message";
inline constexpr std::string_view kLossTimedOut = "transfer timed out (N_Cr)";
inline constexpr std::string_view kLossUnfinished = "transfer unfinished at the end";
inline constexpr std::string_view kLossTooMany = "too many transfers at once";

}  // namespace sumplog
