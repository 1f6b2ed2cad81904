#pragma once
#include <cstdint>

namespace sumplog::service {

// SAE J1979 / ISO 15031-5 (01…0A) and ISO 14229-1 (19, 22, 7F); 21 is the local identifier of ISO 14230-3.
inline constexpr std::uint8_t kCurrentData = 0x01;
inline constexpr std::uint8_t kFreezeFrame = 0x02;
inline constexpr std::uint8_t kStoredCodes = 0x03;
inline constexpr std::uint8_t kPendingCodes = 0x07;
inline constexpr std::uint8_t kVehicleInformation = 0x09;
inline constexpr std::uint8_t kPermanentCodes = 0x0A;
inline constexpr std::uint8_t kReadDtcInformation = 0x19;
inline constexpr std::uint8_t kReadDataByLocalIdentifier = 0x21;
inline constexpr std::uint8_t kReadDataByIdentifier = 0x22;
inline constexpr std::uint8_t kNegativeResponse = 0x7F;
inline constexpr std::uint8_t kPositiveOffset = 0x40;  ///< response service = request service + 0x40

inline constexpr std::uint8_t kResponsePending = 0x78;  ///< ISO 14229-1 NRC

}  // namespace sumplog::service
