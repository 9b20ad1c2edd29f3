#pragma once
// Cuts what comes in into one text an assessment: a file with one, a list of them, or one a line.

#include <cstdint>
#include <iosfwd>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/issue.hpp"
#include "tables/tables.hpp"

namespace footbridge::intake {

/// What the sender wrote, where the bytes of an assessment were made from it.
struct Original {
  std::string input;   ///< the name of the file
  std::string header;  ///< its header row as it came
  std::string rows;    ///< the rows of the assessment as they came
  std::string place;   ///< all of them: "row 14"
  /// JSON Pointers of what was read and the places it was read from: "row 14, column 'R DP'".
  std::vector<std::pair<std::string, std::string>> places;

  /// For whom mends are worded: whoever typed a table, or the sender of a resource.
  enum class Wording : std::uint8_t { Table, Sender };
  Wording wording = Wording::Table;
};

/// The bytes of one assessment and where they stood.
struct Text {
  std::string name;  ///< "visits.ndjson:12", "visits.json[3]", "a.json"
  std::string bytes;
  Issues issues;  ///< if the bytes could not even be taken up, or not all of the original
  std::optional<Original> original = std::nullopt;
};

/// Turns JSON Pointers of issues into places of the original, and their mends into those for
/// whoever typed it.
void relocate(Issues& issues, const Original& original, const Tables& tables);

enum class Layout : std::uint8_t {
  Detect,  ///< lines if the first line is one whole object, else one text or list
  Lines    ///< one a line (NDJSON), whatever the first line looks like
};

/// Yields the texts of one input in order. Lines are held one at a time, so an input of any length
/// is read in the memory of its longest line; a single text or list is held whole.
class Texts {
 public:
  /// The longest single line and the largest single text that is taken.
  static constexpr std::size_t kLineLimit = 8U << 20U;
  static constexpr std::size_t kTextLimit = 64U << 20U;

  Texts(std::istream& in, std::string name, Layout layout);
  ~Texts();
  Texts(const Texts&) = delete;
  Texts& operator=(const Texts&) = delete;

  /// The next text, or nothing at the end. An input without any text yields one with an issue.
  std::optional<Text> next();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::intake
