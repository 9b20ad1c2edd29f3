#pragma once
// Reading the rows of a table file with every fault kept: file, row and member are named.

#include <cstdint>
#include <initializer_list>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "core/issue.hpp"
#include "json/value.hpp"
#include "tables/tables.hpp"

namespace footbridge::tables {

/// The texts of all table files by file name.
using Files = std::map<std::string, std::string, std::less<>>;

/// One row (or part of one) while it is read. Faults go to the issues it was made with.
class Fields {
 public:
  Fields(const json::Value& row, std::string name, Issues& issues)
      : row_(row), name_(std::move(name)), issues_(issues) {}

  /// Required text, optional text, required and optional whole numbers, optional true/false.
  std::string text(std::string_view member);
  std::string optionalText(std::string_view member);
  std::int32_t whole(std::string_view member);
  std::optional<std::int32_t> optionalWhole(std::string_view member);
  bool flag(std::string_view member);

  /// A two-decimal text ("0.90" is 90) or a whole number as it is; nothing for null or missing.
  std::optional<std::int32_t> bound(std::string_view member);

  /// "source" and "certainty"; empty where they are absent and `required` does not ask for them.
  enum class Demand : std::uint8_t { Required, Optional };
  Source source(Demand demand = Demand::Required);

  /// The elements of a list member; none if it is absent.
  const json::Array& list(std::string_view member);

  /// The member itself, or nullptr.
  const json::Value* member(std::string_view name) const { return row_.member(name); }

  /// A fault for each member of another name: what is not read would be lost without a word.
  void refuseOthers(std::initializer_list<std::string_view> known);

  void fault(std::string_view member, std::string_view what);
  Fields inner(const json::Value& part, std::string_view label) const {
    return {part, name_ + " " + std::string(label), issues_};
  }

 private:
  const json::Value& row_;
  std::string name_;
  Issues& issues_;
};

/// The file as JSON; an issue and null if it is missing or broken.
json::Value parseFile(const Files& files, std::string_view name, Issues& issues);

void loadCatalogue(const Files& files, Tables& tables, Issues& issues);
void loadSchemes(const Files& files, Tables& tables, Issues& issues);
void loadCriteria(const Files& files, Tables& tables, Issues& issues);
void loadRules(const Files& files, Tables& tables, Issues& issues);
void loadHeadings(const Files& files, Tables& tables, Issues& issues);
void loadPresets(const Files& files, Tables& tables, Issues& issues);
void loadRealms(const Files& files, Tables& tables, Issues& issues);

/// Cross-references: every id that a row names exists, every scale covers its axis once.
void checkTables(const Tables& tables, Issues& issues);

/// The names of the files, in the order in which they are digested.
const std::vector<std::string>& fileNames();

/// The files built into the program.
Files embeddedFiles();

}  // namespace footbridge::tables
