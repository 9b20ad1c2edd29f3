#pragma once
// Names and words that every sender may use without a source map: those of the catalogue.

#include <functional>
#include <map>
#include <string>
#include <string_view>

#include "csv/source_map.hpp"

namespace footbridge::csv {

/// How a coding is written as the name of a reading; "" where senders of a kind cannot write it.
using Spelling = std::function<std::string(std::string_view system, std::string_view code)>;

/// The system of our own codes.
std::string ownSystem(const Tables& tables);

/// Every reading by its path and by the id of its concept as codes of our own system
/// ("legs.right.toe.pressure", "toe-pressure": of the latter the side is told apart), and by the
/// verified standard codes that mean one item only.
std::map<std::string, Target, std::less<>> knownReadings(const Tables& tables,
                                                         const Spelling& spell);

/// Adds reasons of absence ("absent:error"), arteries that did not yield ("incompressible:300") and
/// graded pulses ("grade:2:0-3").
void addKnownWords(Words& words, const Tables& tables);

}  // namespace footbridge::csv
