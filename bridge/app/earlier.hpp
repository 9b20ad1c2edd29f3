#pragma once
// Bundles of earlier visits, for the figures that a new one is compared with.

#include <array>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "core/issue.hpp"
#include "core/time.hpp"
#include "json/value.hpp"
#include "model/assessment.hpp"
#include "tables/tables.hpp"

namespace footbridge::app {

/// What earlier bundles say of ankle-brachial index, toe-brachial index and toe pressure, by
/// patient. Read once; asked by all threads.
class Earlier {
 public:
  explicit Earlier(const Tables& tables);

  /// Takes up a file of bundles: one, a list, or one a line, as `convert` writes them or as a
  /// record server returns them with the patient in the same bundle. What holds no usable figure is
  /// an issue; the rest counts.
  Issues read(const std::string& path);

  /// Gives an assessment that brings no earlier figures those of the same patient's latest visit
  /// on a day before it, each with a note of the Observation it is from.
  void complete(Assessment& assessment, Issues& issues) const;

 private:
  /// One figure: the item it is an earlier one of, its digits, and where it stood.
  struct Figure {
    Item item{};
    Side side = Side::None;
    Decimal value;
    std::string from;
  };
  struct Visit {
    Date day;
    std::vector<Figure> figures;
  };

  static void put(Visit& visit, const Figure& figure);
  void take(const json::Value& bundle, const std::string& name, Issues& issues);
  std::optional<Figure> figureOf(const json::Value& observation) const;
  std::optional<Item> itemOf(const json::Value& code) const;
  /// The side of a body site whose codings stand for one side only.
  Side sideOf(const json::Value& site) const;

  const Tables& tables_;
  std::map<std::string, Item> items_;                 ///< by system and code
  std::map<std::string, std::set<Side>> sides_;       ///< of body sites, by the same
  std::map<std::string, std::vector<Visit>> visits_;  ///< by search condition of the patient
};

}  // namespace footbridge::app
