#pragma once
// An assessment in the input format while it is put together from a resource.

#include <set>
#include <string>
#include <string_view>

#include "csv/visit.hpp"
#include "intake/texts.hpp"
#include "json/value.hpp"

namespace footbridge::fhir {

class Draft {
 public:
  /// `map` is the sender's, with what it states for all; both have to outlive it.
  Draft(const Tables& tables, const csv::SourceMap& map);

  const Tables& tables() const { return tables_; }

  /// Puts a value there; what is said of it later is said of `place`.
  void put(std::string_view pointer, json::Value value, const std::string& place);

  /// The same of a text; nothing where it is empty.
  void putText(std::string_view pointer, std::string_view text, const std::string& place);

  /// The same of an Identifier; one without a system belongs to that below the map's base.
  void putIdentifier(std::string_view pointer, const json::Value& identifier,
                     const std::string& place);

  /// Adds an Identifier to the list there.
  void appendIdentifier(std::string_view pointer, const json::Value& identifier,
                        const std::string& place);

  /// Adds an element to the list there.
  void append(std::string_view pointer, json::Value value, const std::string& place);

  /// The same unless just that is in the list already.
  void appendOnce(std::string_view pointer, json::Value value, const std::string& place);

  bool holds(std::string_view pointer) const;

  /// What is said of this part of the input format, is said of that place of the resource.
  void locate(std::string_view pointer, const std::string& place);

  /// Says what is wrong with the resource itself.
  void remark(std::string_view rule, std::string place, Arguments arguments = {});

  void remark(Issue found) { issues_.push_back(std::move(found)); }

  /// Hands everything over to a visit that goes on from here.
  void start(csv::Visit& visit) const;

  /// What was put together with what the map states, of the resource that came as these bytes.
  intake::Text text(const std::string& name, std::string raw) const;

 private:
  json::Value identifierOf(std::string_view pointer, const json::Value& identifier) const;

  const Tables& tables_;
  const csv::SourceMap& map_;
  json::Value root_;
  Issues issues_;
  intake::Original original_;
  std::set<std::string> once_;  ///< what appendOnce() has added
};

}  // namespace footbridge::fhir
