#pragma once
#include <string_view>

namespace sumplog {

// Names of entries that make the program do something; their fields stand in docs/entries.md.

/// One reading of the fluid temperature now, also while nothing is asked because the ignition seems off.
inline constexpr std::string_view kReadOnceEntry = "read_once";

/// The drain or check plug came out, or is in again.
inline constexpr std::string_view kPlugOut = "plug_out";
inline constexpr std::string_view kPlugIn = "plug_in";
/// A second thermometer was read.
inline constexpr std::string_view kReadingByHand = "reading_by_hand";
/// Fluid was poured in: it must mix. A volume of it is kFluidIn.
inline constexpr std::string_view kFluidAdded = "fluid_added";
/// The engine is off and the fluid is to cool down.
inline constexpr std::string_view kCoolDown = "cool_down";
/// The selector was moved through all positions, or one position was held.
inline constexpr std::string_view kSelectorCycleDone = "selector_cycle_done";
inline constexpr std::string_view kPositionHeld = "position_held";
/// A condition that no bus shows holds, or holds no longer.
inline constexpr std::string_view kConditionTicked = "condition_ticked";
/// What was seen at the standpipe.
inline constexpr std::string_view kLevelSeen = "level_seen";
/// The technician stands for the window, the decoder or the like.
inline constexpr std::string_view kConfirmed = "confirmed";
/// What the person was shown as verdict.
inline constexpr std::string_view kVerdictShown = "verdict_shown";

/// Plate, VIN, odometer and what else is written down at reception. A field that comes again replaces the one before.
inline constexpr std::string_view kIntake = "intake";
inline constexpr std::string_view kStageBegun = "stage_begun";
inline constexpr std::string_view kStageEnded = "stage_ended";
inline constexpr std::string_view kStageSkipped = "stage_skipped";
/// Fluid that came out or went in, by volume or by mass.
inline constexpr std::string_view kFluidOut = "fluid_out";
inline constexpr std::string_view kFluidIn = "fluid_in";
/// The share of new fluid that an exchange is to reach.
inline constexpr std::string_view kExchangeWanted = "exchange_wanted";
/// Parts, notes, photos.
inline constexpr std::string_view kPartUsed = "part_used";
inline constexpr std::string_view kNote = "note";
inline constexpr std::string_view kPhoto = "photo";
/// Something is left to do; it is done; or somebody else has taken it over.
inline constexpr std::string_view kOpenItem = "open_item";
inline constexpr std::string_view kOpenItemDone = "open_item_done";
inline constexpr std::string_view kOpenItemSignedOver = "open_item_signed_over";

/// Read the fault codes now; field "scan" says for what.
inline constexpr std::string_view kScanEntry = "scan";
inline constexpr std::string_view kScanBefore = "before";
inline constexpr std::string_view kScanAfter = "after";
inline constexpr std::string_view kScanDuring = "during";

}  // namespace sumplog
