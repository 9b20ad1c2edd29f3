#pragma once
// What codings of Observations mean: readings, sides, toes, words.

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "csv/source_map.hpp"
#include "json/value.hpp"

namespace footbridge::fhir {

/// What a CodeableConcept may be called, the more exact first: "system|code" of each coding, then
/// its codes, displays and its text.
std::vector<std::string> callsOf(const json::Value* codeable);

/// What an Observation is by its code.
struct Meaning {
  std::string name;  ///< in the map's readings; the first call if it is none of them
  const csv::Target* target = nullptr;
};

/// Codes of the catalogue, and before them those of the sender's map. Immutable; the tables have to
/// outlive it.
class Codes {
 public:
  /// `map` may be nullptr.
  Codes(const csv::SourceMap* map, const Tables& tables);

  const csv::SourceMap& map() const { return map_; }

  /// By its code, or by code and body site where the map names both ("CODE at SITE").
  Meaning reading(const json::Value* code, const json::Value* site) const;

  /// Whether an Observation or a part of it is a reading that is known and wanted.
  bool knows(const json::Value& observation) const;

  /// A reading by the id of its concept.
  Meaning own(std::string_view conceptId) const;

  /// An attribute of a reading, of that side, by its path.
  Meaning own(const ItemRow& row, std::string_view side) const;

  /// True for what is made here from readings (indices, grades, flags), whoever made it.
  bool computed(const json::Value* code) const;

  /// Which side a body site is of: "right" or "left", or as the sender calls it where that cannot
  /// be told; "" if there is none.
  std::string side(const json::Value* site) const;

  /// The toe that a body site is ("great"), or that no coding names: "".
  std::string_view toe(const json::Value* site) const;

  /// Whether one of the codings is of that concept.
  bool bears(const json::Value* codeable, std::string_view conceptId) const;

  /// The word that a method or a kind of device is in a list, "" if it is none.
  std::string word(const json::Value* codeable, std::string_view list) const;

  const Tables& tables() const { return tables_; }

 private:
  void learnSites();
  void learnComputed();
  std::optional<Side> sideOf(const json::Value& coding) const;

  const Tables& tables_;
  csv::SourceMap map_;
  std::string own_;
  std::map<std::string, std::set<Side>, std::less<>> sides_;     ///< by "system|code"
  std::map<std::string, std::string_view, std::less<>> digits_;  ///< the same
  std::set<std::string, std::less<>> computed_;                  ///< the same
};

}  // namespace footbridge::fhir
