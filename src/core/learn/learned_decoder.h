#pragma once
#include <string>

#include "core/item/result.h"
#include "core/learn/fluid_search.h"
#include "core/learn/payload_log.h"

namespace sumplog {

/// A decoder folder for what was found, as text.
struct LearnedDecoder {
  std::string signals;  ///< signals.toml
  std::string notes;    ///< notes.md
};

/// Writes the decoder: origin `inferred`, the evidence, and check vectors from the capture beside those that the format asks
/// for.
/// in   id  of the decoder: a folder's name
///      place  of `signal`, which `result` holds
/// err  the id is none
/// src  docs/decoder_format.md
[[nodiscard]] Result<LearnedDecoder> learned_decoder(const std::string& id, const Candidate& place,
                                                     const FoundSignal& signal, const SearchResult& result,
                                                     const Evidence& evidence, const PayloadLog& log);

}  // namespace sumplog
