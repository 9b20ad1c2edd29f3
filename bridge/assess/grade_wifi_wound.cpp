// WIfI wound grade from depth, site and gangrene. What is not recorded can be anything: the grade
// stands only if every possibility leads to it.

#include <array>

#include "assess/grade_schemes.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr std::array<std::string_view, 4> kOutcomes{"wifi-wound-0", "wifi-wound-1", "wifi-wound-2",
                                                    "wifi-wound-3"};

/// One way in which the wound could be described.
struct Description {
  std::string_view depth;
  std::string_view site;
  std::string_view gangrene;
};

bool matches(std::string_view wanted, std::string_view word) {
  return wanted.empty() || wanted == word;
}

/// "other" is any site but the heel.
bool matchesSite(std::string_view wanted, std::string_view word) {
  return matches(wanted, word) || (wanted == "other" && word != "heel");
}

/// The row of the highest grade that fits, nullptr if none does.
const WoundRow* worstRow(const std::vector<WoundRow>& rows, const Description& wound) {
  const WoundRow* worst = nullptr;
  for (const WoundRow& row : rows) {
    const bool fits = matches(row.depth, wound.depth) && matchesSite(row.site, wound.site) &&
                      matches(row.gangrene, wound.gangrene);
    if (fits && (worst == nullptr || row.grade > worst->grade)) worst = &row;
  }
  return worst;
}

std::vector<std::string_view> possible(std::string_view recorded, const WordList* list) {
  std::vector<std::string_view> words;
  if (!recorded.empty()) return {recorded};
  for (const WordRow& row : list->words) words.push_back(row.word);
  return words;
}

/// The table tells the heel from any other site, and of these the toe.
std::vector<std::string_view> possibleSites(std::string_view recorded) {
  if (recorded.empty()) return {"heel", "toe", "other"};
  return {recorded == "heel" || recorded == "toe" ? recorded : "other"};
}

struct Possibilities {
  const WoundRow* mildest = nullptr;
  const WoundRow* worst = nullptr;
  bool unmatched = false;
};

void consider(Possibilities& all, const WoundRow* row) {
  if (row == nullptr) {
    all.unmatched = true;
    return;
  }
  if (all.mildest == nullptr || row->grade < all.mildest->grade) all.mildest = row;
  if (all.worst == nullptr || row->grade > all.worst->grade) all.worst = row;
}

Possibilities possibilities(const Leg& leg) {
  const Tables& tables = leg.tables;
  const auto depths = possible(leg.word(Item::WoundDepth), tables.wordList("wound-depth"));
  const auto sites = possibleSites(leg.word(Item::WoundSite));
  const auto gangrenes = possible(leg.word(Item::Gangrene), tables.wordList("gangrene"));
  Possibilities all;
  for (const std::string_view depth : depths) {
    for (const std::string_view site : sites) {
      for (const std::string_view gangrene : gangrenes) {
        consider(all, worstRow(tables.wifi.wound, {depth, site, gangrene}));
      }
    }
  }
  return all;
}

GradeRange left(const Possibilities& all) {
  return all.worst == nullptr ? GradeRange{} : GradeRange{all.mildest->grade, all.worst->grade};
}

std::string missing(const Leg& leg) {
  std::vector<std::string> names;
  for (const Item item : {Item::WoundDepth, Item::WoundSite, Item::Gangrene}) {
    if (leg.word(item).empty()) names.push_back(leg.tables.row(item).label);
  }
  return listing(names);
}

std::string because(const Leg& leg) {
  const std::string names = missing(leg);
  if (names.empty()) return sentence(leg.tables, "grade-wifi-wound-no-row");
  return sentence(leg.tables, "grade-wifi-wound-missing", {{"missing", names}});
}

}  // namespace

Grade woundGrade(const Leg& leg) {
  Grade grade = blankWifi(leg, "wifi-wound");
  noteInputs(grade, leg, {Item::WoundDepth, Item::WoundSite, Item::Gangrene});
  const Possibilities all = possibilities(leg);
  const bool one = all.worst != nullptr && all.mildest->grade == all.worst->grade && !all.unmatched;
  if (one) {
    const WoundRow& row = *all.worst;
    decide(grade, kOutcomes[static_cast<std::size_t>(row.grade)], row.id, row.source);
  } else {
    leaveOpen(grade, AbsentReason::Unknown, because(leg));
  }
  preferStated(grade, leg, Item::StatedWound, left(all));
  return grade;
}

}  // namespace footbridge::assess
