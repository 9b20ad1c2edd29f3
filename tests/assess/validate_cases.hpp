#pragma once
// What the test tables of validate() are written in: a visit in which all is well, small changes to
// it, and what each change must or must not bring about.

#include <cstdint>
#include <optional>
#include <ostream>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "assess/validate.hpp"
#include "model/assessment.hpp"
#include "tables/tables.hpp"

namespace footbridge::test {

inline constexpr Side kRight = Side::Right;
inline constexpr Side kLeft = Side::Left;
inline constexpr Side kNone = Side::None;

/// The tables built into the program, loaded once.
const Tables& tables();

/// An invented visit: both arms, both legs, every artery and toe read, nothing to remark on.
Assessment cleanVisit();

/// The clock that the visit is held against: seven weeks after it.
Instant testNow();

Content mmhg(std::int32_t whole);
Content halves(std::int32_t halves);
Content number(std::string_view text);
Content said(std::string_view word);
Content absent(AbsentReason reason = AbsentReason::NotPerformed);
Content hard(std::optional<std::int32_t> limit = std::nullopt);
Content graded(std::string_view scale, std::int32_t grade, std::string_view word);

/// Puts a reading into its place, in exchange for the one that was there.
void set(Assessment& visit, Item item, Side side, Content content,
         Comparator comparator = Comparator::None);

/// As set(), for a reading that was converted from what `original` says.
void setConverted(Assessment& visit, Item item, Side side, Content content, std::string original);

/// As set(), for the mean of repeats that go along; `unit` as sent if they were converted.
void setRepeats(Assessment& visit, Item item, Side side, Content mean,
                const std::vector<Content>& repeats, std::string_view unit = "");

void unset(Assessment& visit, Item item, Side side);
void unsetLeg(Assessment& visit, Side side);

enum class Expect : std::uint8_t { Fires, Silent };
inline constexpr Expect kFires = Expect::Fires;
inline constexpr Expect kSilent = Expect::Silent;

/// One line of a test table: after `change`, `rule` fires at `place` or is silent everywhere.
struct Case {
  std::string_view name;
  std::string_view rule;
  Expect expect;
  std::string_view place;
  void (*change)(Assessment&);
  std::string_view source;
};

std::ostream& operator<<(std::ostream& out, const Case& value);

/// The issues of a rule.
Issues ofRule(const Issues& issues, std::string_view rule);

/// One table per theme, each in the file of its theme.
std::span<const Case> limitCases();
std::span<const Case> entryCases();
std::span<const Case> pressureCases();
std::span<const Case> signalCases();
std::span<const Case> amputationCases();
std::span<const Case> statementCases();
std::span<const Case> statedCases();
std::span<const Case> methodCases();
std::span<const Case> identityCases();
std::span<const Case> dateCases();
std::span<const Case> completenessCases();

/// An index in hundredths, as derive would make it.
struct IndexCase {
  std::string_view name;
  std::string_view rule;
  Expect expect;
  std::string_view place;
  std::vector<Index> indices;
  std::string_view source;
};

std::ostream& operator<<(std::ostream& out, const IndexCase& value);

std::span<const IndexCase> indexCases();

}  // namespace footbridge::test
