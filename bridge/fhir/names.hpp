#pragma once
// What the fields of the input format are called in resources: by their path in forms, by codings
// in observations.

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "fhir/codes.hpp"
#include "json/value.hpp"
#include "tables/tables.hpp"

namespace footbridge::fhir {

/// What a field of the input format takes.
enum class Takes : std::uint8_t {
  Reading,  ///< a value with what belongs to it
  Text,
  Texts,  ///< a list of them
  Number
};

struct Field {
  Takes takes = Takes::Text;
  const ItemRow* row = nullptr;     ///< of a reading
  const WordList* words = nullptr;  ///< where a coding stands for one of them
};

/// All that may be asked, and what a sender's map adds. Immutable; the tables have to outlive it.
class Names {
 public:
  /// `map` may be nullptr.
  explicit Names(const Tables& tables, const csv::SourceMap* map = nullptr);

  const Tables& tables() const { return tables_; }

  /// What codings mean where no path is named.
  const Codes& codes() const { return codes_; }

  /// The field of that path ("legs.right.toe.pressure"), nullptr if there is none.
  const Field* field(std::string_view path) const;

  /// The path that was probably meant, "" if none is near.
  std::string_view near(std::string_view path) const;

 private:
  const Tables& tables_;
  std::map<std::string, Field, std::less<>> fields_;
  std::vector<std::string> all_;
  Codes codes_;
};

/// "legs.right.toe.pressure" as a JSON Pointer.
std::string pointerOf(std::string_view path);

/// Whether the concept is known by this coding: by our code, or by a verified standard one.
bool bears(const Concept& known, const json::Value& coding, const Tables& tables);

/// The word of the list that a coding stands for; its code where it stands for none.
std::string wordOf(const json::Value& coding, const WordList* words, const Tables& tables);

/// The word that a coding stands for; "" where it stands for none, or for several.
std::string_view meantWord(const json::Value& coding, const WordList& words, const Tables& tables);

/// Yes and no, in the words of the list; "" if it has none for that.
std::string wordFor(bool yes, const WordList* words);

}  // namespace footbridge::fhir
