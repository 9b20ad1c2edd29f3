#pragma once
// How one sender's messages are read: its source map, if there is one, with the names and words
// that every sender may use.

#include <optional>
#include <string>
#include <string_view>

#include "csv/source_map.hpp"

namespace footbridge::hl7 {

/// The name under which codes of ours travel in OBX-3 and OBX-5 (HL7 table 0396 leaves names that
/// begin with 99 to those who exchange messages).
inline constexpr std::string_view kOwnCodes = "99FOOTBRIDGE";

/// Immutable once made. The tables have to outlive it.
struct Settings {
  csv::SourceMap map;  ///< the sender's own names come before those that all may use
};

/// Adds to a map (or to none): every reading by its path ("legs.right.toe.pressure^99FOOTBRIDGE"),
/// by the id of its concept where the side is told apart, and by the verified LOINC and SNOMED CT
/// codes that mean one item only; reasons of absence ("absent:error"), arteries that did
/// not yield ("incompressible:300") and graded pulses ("grade:2:0-3") as words.
Settings settingsOf(const csv::SourceMap* map, const Tables& tables);

/// The system of an assigning authority (HD: namespace, universal id, its type, by `mark`): as the
/// map says; an OID or UUID as a URN, a URI as it is. Nothing if it cannot be told; `fallback`
/// where the message names no authority.
std::optional<std::string> systemOf(std::string_view authority, char mark,
                                    std::string_view fallback, const csv::SourceMap& map);

}  // namespace footbridge::hl7
