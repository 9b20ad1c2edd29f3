#pragma once
// The rows of one visit as one assessment in the form of docs/input.md.

#include <string>
#include <vector>

#include "csv/cell.hpp"
#include "csv/source_map.hpp"
#include "intake/texts.hpp"
#include "json/value.hpp"

namespace footbridge::csv {

/// A row as it came and as text. `number` is that of a spreadsheet: the header is row 1. What is no
/// row of a table (a segment of a message) names itself and the places of its cells.
struct Row {
  std::vector<std::string> cells;
  std::string raw;
  std::size_t number = 0;
  std::string_view word = "row";
  std::vector<std::string> places;  ///< one a cell; none: row and column
};

/// Puts what the map states for all assessments into one that says nothing of the kind. A performer
/// is one person: a name from the sender never stands beside an identifier from the map; only the
/// role may be shared.
void putDefaults(json::Value& root, const SourceMap& map);

/// A column of the map and where it stands in the file.
struct Bound {
  const Column* column = nullptr;
  std::size_t index = 0;
};

/// Gathers rows; a new one for each visit. Whatever cannot be read is an issue that names row and
/// column, and the rest is still taken.
class Visit {
 public:
  Visit(const SourceMap& map, const Tables& tables, const std::vector<Bound>& columns)
      : map_(map), tables_(tables), columns_(columns), seen_(columns.size()) {}

  /// What is known of the visit before its rows, and the places of its parts.
  void start(json::Value root, std::vector<std::pair<std::string, std::string>> places);

  void add(const Row& row);

  /// A row that belongs here but could not be read, and why.
  void addUnread(const Row& row, Issues why);

  /// Another problem with these rows.
  void refuse(Issue issue) { issues_.push_back(std::move(issue)); }

  /// "row 14" or "rows 14 to 20".
  std::string place() const;

  /// The assessment as JSON with its issues and the places of its parts. Header and input are left
  /// for the reader of the file to fill in.
  intake::Text text();

 private:
  /// A cell that is not blank, with its place for people.
  struct Cell {
    const Target* target = nullptr;
    std::string text;
    std::string place;
  };
  struct Note {
    std::string pointer;
    Cell cell;
  };

  void count(const Row& row);
  std::string placeOf(const Row& row, std::size_t column) const;
  bool agrees(std::size_t column, const Cell& cell);
  void take(Cell cell);
  void takeWord(const Cell& cell);
  void takeWhole(const Cell& cell);
  void takeIdentifier(const Cell& cell);
  void takeFullName(const Cell& cell);
  void takeDay(const Cell& cell);
  void takeText(const Cell& cell);
  void takeReading(const Cell& cell, const Target& target);
  void takeItem();
  std::optional<Side> itemSide(const Target& target);
  bool takeItemUnit(Target& target);

  std::optional<Instant> momentIn(const Cell& day, const Cell* time);
  std::optional<Instant> onTheClock(const Date& date, std::int32_t second,
                                    const std::string& place);
  void finishMoment();
  void finishNotes();
  void finishIdentifier();

  CellPlace at(const std::string& place) { return {map_, tables_, issues_, place}; }
  void put(const std::string& pointer, json::Value value, const std::string& place);
  Cell& item(Role role) { return item_[static_cast<std::size_t>(role) - kFirstItem]; }

  static constexpr auto kFirstItem = static_cast<std::size_t>(Role::ItemName);

  const SourceMap& map_;
  const Tables& tables_;
  const std::vector<Bound>& columns_;
  std::vector<std::string> seen_;  ///< rows of one reading: what each head column said first
  bool read_ = false;              ///< at least one row could be read
  std::string_view word_ = "row";
  std::optional<std::size_t> firstRow_;
  std::size_t lastRow_ = 0;
  std::string raw_;
  json::Value root_{json::Object{}};
  std::vector<std::pair<std::string, std::string>> places_;
  Issues issues_;
  Cell day_;  ///< of measuredAt, with the time unless that has its own
  Cell time_;
  std::vector<Note> notes_;
  std::array<Cell, 5> item_;  ///< the row's reading by Role, from ItemName
};

}  // namespace footbridge::csv
