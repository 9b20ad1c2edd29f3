#pragma once
// The schemes one by one; grade.cpp puts them together.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "assess/leg.hpp"
#include "model/findings.hpp"

namespace footbridge::assess {

/// A grade to be filled in: scheme, rule set and side only.
Grade blank(const Leg& leg, std::string_view scheme, std::string_view ruleSet);

/// The same for WIfI, with the source of the scheme.
Grade blankWifi(const Leg& leg, std::string_view scheme);

/// Puts in a class with the row that decided.
void decide(Grade& grade, std::string_view outcome, std::string_view rule, const Source& source);

/// Leaves the grade without a class, for the reason that a rule's sentence gives.
void leaveOpen(Grade& grade, AbsentReason reason, std::string because);

/// Notes the readings that are there among the items.
void noteInputs(Grade& grade, const Leg& leg, std::initializer_list<Item> items);

/// The WIfI grades that findings leave possible.
struct GradeRange {
  std::int32_t mildest = 0;
  std::int32_t worst = 3;
};

/// "2", "2 or 3", "1 to 3".
std::string text(const GradeRange& range);

/// The word of the scale "grade-0-3" that a clinician stated decides. What was computed is kept in
/// a remark if it says otherwise, or if it was left open and `left` has no room for the stated
/// grade; so are its warnings. `grade` is what was computed.
void preferStated(Grade& grade, const Leg& leg, Item stated, const GradeRange& left);

/// The number at the end of "wifi-wound-2"; nothing if the grade has no class.
std::optional<std::int32_t> number(const Grade& grade);

/// The class that holds the value.
const Band* bandOf(const std::vector<Band>& bands, std::int32_t hundredths);

/// Says so by a rule where the value is an edge that the source names twice or not at all.
void remarkEdge(Grade& grade, const Band& band, std::int32_t hundredths, const Rule& rule);

/// True if symptoms, wound, gangrene or a stage were recorded.
bool stageRecorded(const Leg& leg);

void addBandGrades(const Leg& leg, std::vector<Grade>& grades);
void addCltiGrades(const Leg& leg, std::vector<Grade>& grades);
void addCompressionGrades(const Leg& leg, std::vector<Grade>& grades);
void addCriteriaGrades(const Leg& leg, std::vector<Grade>& grades);
void addStageGrades(const Leg& leg, std::vector<Grade>& grades);
void addWaveformGrades(const Leg& leg, std::vector<Grade>& grades);
void addWifiGrades(const Leg& leg, std::vector<Grade>& grades);

Grade woundGrade(const Leg& leg);
Grade ischaemiaGrade(const Leg& leg);
Grade infectionGrade(const Leg& leg);

}  // namespace footbridge::assess
