#pragma once
// What the test tables of intake are written in: a document in which everything is well, changes to
// it, and what each change must or must not bring about.

#include <cstdint>
#include <ostream>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/issue.hpp"
#include "intake/assessment_reader.hpp"
#include "support/edit_json.hpp"
#include "tables/tables.hpp"

namespace footbridge::test {

/// The tables built into the program, loaded once.
const Tables& tables();

/// An invented visit with every member of the head and every item of one leg. Nothing to remark on.
std::string_view goodDocument();

/// What the reader makes of bytes, or of the good document with changes.
intake::Intake readBytes(std::string_view bytes);
intake::Intake readEdited(const std::vector<Edit>& edits);

/// As above for a whole input: the issues of cutting it and of reading each text, in order.
Issues issuesOfInput(const std::string& bytes);

/// The issues of a rule.
Issues ofRule(const Issues& issues, std::string_view rule);

/// "rule place: text" of each, for messages of failed tests.
std::string listed(const Issues& issues);

enum class Expect : std::uint8_t { Fires, Silent };
inline constexpr Expect kFires = Expect::Fires;
inline constexpr Expect kSilent = Expect::Silent;

/// One line of a table: with the changes made, `rule` fires just once and at `place`, and no other
/// rule does; or the rule is silent and nothing is an error.
struct Case {
  std::string_view name;
  std::string_view rule;
  Expect expect;
  std::string_view place;
  std::vector<Edit> edits;
  std::string_view source = "docs/input.md";
};

std::ostream& operator<<(std::ostream& out, const Case& value);

/// gtest wants letters, digits and underscores.
std::string testName(std::string_view words, std::size_t index);

std::span<const Case> headCases();
std::span<const Case> textCases();
std::span<const Case> readingCases();
std::span<const Case> pressureCases();

}  // namespace footbridge::test
