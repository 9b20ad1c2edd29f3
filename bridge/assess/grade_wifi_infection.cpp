// WIfI foot infection grade, by the signs of IDSA as WIfI prints them. Local signs not recorded
// leave the grade open; systemic signs not taken do not, but are named (docs/clinical.md).

#include <algorithm>
#include <array>

#include "assess/grade_schemes.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr std::array<std::string_view, 4> kOutcomes{"wifi-infection-0", "wifi-infection-1",
                                                    "wifi-infection-2", "wifi-infection-3"};
constexpr std::array<std::string_view, 4> kRows{"wifi.infection.0", "wifi.infection.1",
                                                "wifi.infection.2", "wifi.infection.3"};
constexpr RowId kLocal{"grade-wifi-local-signs"};
constexpr RowId kSystemic{"grade-wifi-systemic-signs"};

struct Sign {
  std::string name;
  Answer answer = Answer::Unknown;
};

Answer saidPresent(std::string_view word) {
  if (word.empty()) return Answer::Unknown;
  return word == "present" ? Answer::Yes : Answer::No;
}

/// Figures in tenths of a centimetre.
Answer erythemaAbove(const Leg& leg, std::string_view name) {
  return above(leg.find(Item::InfectionErythema), Decimal{figure(leg.tables, kLocal, name), 1});
}

Answer deepFocus(const Leg& leg) {
  const std::string_view word = leg.word(Item::InfectionDeep);
  if (word.empty()) return Answer::Unknown;
  return word == "none" ? Answer::No : Answer::Yes;
}

std::vector<Sign> localSigns(const Leg& leg) {
  std::vector<Sign> signs;
  for (const Item item : {Item::InfectionSwelling, Item::InfectionTenderness, Item::InfectionWarmth,
                          Item::InfectionPus}) {
    signs.push_back({leg.tables.row(item).label, saidPresent(leg.word(item))});
  }
  signs.push_back(
      {leg.tables.row(Item::InfectionErythema).label, erythemaAbove(leg, "erythemaTenthsAbove")});
  return signs;
}

Decimal systemicFigure(const Leg& leg, std::string_view name) {
  return {figure(leg.tables, kSystemic, name), 0};
}

Answer aboveFigure(const Leg& leg, Item item, std::string_view name) {
  return above(leg.assessment.find(item, Side::None), systemicFigure(leg, name));
}

Answer belowFigure(const Leg& leg, Item item, std::string_view name) {
  return below(leg.assessment.find(item, Side::None), systemicFigure(leg, name));
}

Answer outsideFigures(const Leg& leg, Item item, std::string_view low, std::string_view high) {
  return outside(leg.assessment.find(item, Side::None), systemicFigure(leg, low),
                 systemicFigure(leg, high));
}

std::string labels(const Leg& leg, Item first, Item second) {
  return leg.tables.row(first).label + " or " + leg.tables.row(second).label;
}

/// Four signs; the third and fourth can each be taken in two ways.
std::vector<Sign> systemicSigns(const Leg& leg) {
  const Answer breathing = either(aboveFigure(leg, Item::RespiratoryRate, "respiratoryRateAbove"),
                                  belowFigure(leg, Item::CarbonDioxide, "paco2Below"));
  const Answer whiteCells =
      outsideFigures(leg, Item::WhiteCells, "whiteCellsBelow", "whiteCellsAbove");
  return {
      {leg.tables.row(Item::Temperature).label,
       outsideFigures(leg, Item::Temperature, "temperatureBelow", "temperatureAbove")},
      {leg.tables.row(Item::HeartRate).label, aboveFigure(leg, Item::HeartRate, "heartRateAbove")},
      {labels(leg, Item::RespiratoryRate, Item::CarbonDioxide), breathing},
      {labels(leg, Item::WhiteCells, Item::BandForms),
       either(whiteCells, aboveFigure(leg, Item::BandForms, "bandFormsAbove"))}};
}

std::int32_t count(const std::vector<Sign>& signs, Answer answer) {
  return static_cast<std::int32_t>(std::count_if(
      signs.begin(), signs.end(), [=](const Sign& sign) { return sign.answer == answer; }));
}

std::string names(const std::vector<Sign>& signs, Answer answer) {
  std::vector<std::string> out;
  for (const Sign& sign : signs) {
    if (sign.answer == answer) out.push_back(sign.name);
  }
  return listing(out);
}

/// The grades that the local findings leave possible; 0 is "not enough for grade 1".
struct LocalGrade {
  std::int32_t mildest = 0;
  std::int32_t worst = 0;
  bool beyondSkin = false;  ///< deep focus or wide erythema, for certain
};

LocalGrade localGrade(const Leg& leg, const std::vector<Sign>& signs) {
  const Answer wide = erythemaAbove(leg, "wideTenthsAbove");
  const Answer deep = deepFocus(leg);
  if (wide == Answer::Yes || deep == Answer::Yes) return {2, 2, true};
  const std::int32_t needed = figure(leg.tables, kLocal, "signs");
  const std::int32_t seen = count(signs, Answer::Yes);
  const bool couldBeBeyond = wide == Answer::Unknown || deep == Answer::Unknown;
  LocalGrade grade;
  grade.mildest = seen >= needed ? 1 : 0;
  grade.worst = seen + count(signs, Answer::Unknown) >= needed ? 1 : 0;
  if (couldBeBeyond) grade.worst = 2;
  return grade;
}

/// What was seen, with what it adds up to.
struct Picture {
  std::string_view stated;  ///< "present", "absent" or ""
  std::vector<Sign> local;
  std::vector<Sign> systemic;
  LocalGrade grade;
  bool systemicResponse = false;
  bool systemicOpen = false;  ///< not enough was taken to exclude it
};

Picture pictureOf(const Leg& leg) {
  Picture picture{.stated = leg.word(Item::Infection),
                  .local = localSigns(leg),
                  .systemic = systemicSigns(leg),
                  .grade = {}};
  picture.grade = localGrade(leg, picture.local);
  const std::int32_t needed = figure(leg.tables, kSystemic, "signs");
  const std::int32_t seen = count(picture.systemic, Answer::Yes);
  picture.systemicResponse = seen >= needed;
  picture.systemicOpen =
      !picture.systemicResponse && seen + count(picture.systemic, Answer::Unknown) >= needed;
  return picture;
}

void decideAs(Grade& grade, const Leg& leg, std::int32_t number) {
  const auto row = static_cast<std::size_t>(number);
  decide(grade, kOutcomes[row], kRows[row], leg.tables.wifi.infectionSource);
}

void leaveUnknown(Grade& grade, const Leg& leg, RowId rule, Arguments arguments = {}) {
  leaveOpen(grade, AbsentReason::Unknown, sentence(leg.tables, rule, arguments));
}

void remarkSystemicSigns(Grade& grade, const Leg& leg, const Picture& picture, RowId rule) {
  grade.remarks.push_back(
      remark(leg.tables, rule, {{"signs", names(picture.systemic, Answer::Yes)}}));
}

/// An infection is said to be there, by its signs if by nothing else, or graded by the clinician.
bool otherFootInfected(const Leg& leg) {
  const Side side = leg.side == Side::Right ? Side::Left : Side::Right;
  const Leg other{leg.assessment, leg.indices, leg.tables, side};
  const Picture picture = pictureOf(other);
  const std::string_view stated = other.word(Item::StatedInfection);
  return picture.stated == "present" || picture.grade.mildest > 0 ||
         (!stated.empty() && stated != "0");
}

void saidAbsent(Grade& grade, const Leg& leg, const Picture& picture) {
  if (picture.grade.mildest > 0) {
    std::string seen = names(picture.local, Answer::Yes);
    if (seen.empty()) seen = leg.tables.row(Item::InfectionDeep).label;
    leaveUnknown(grade, leg, "grade-wifi-infection-contradicted", {{"signs", seen}});
    return;
  }
  decideAs(grade, leg, 0);
  if (!picture.systemicResponse) return;
  remarkSystemicSigns(grade, leg, picture,
                      choose(otherFootInfected(leg), "grade-wifi-systemic-other-foot",
                             "grade-wifi-systemic-without-local"));
}

std::string missing(const Leg& leg, const Picture& picture) {
  std::vector<std::string> out;
  for (const Sign& sign : picture.local) {
    if (sign.answer == Answer::Unknown) out.push_back(sign.name);
  }
  if (deepFocus(leg) == Answer::Unknown) out.push_back(leg.tables.row(Item::InfectionDeep).label);
  return listing(out);
}

void remarkLocalSigns(Grade& grade, const Leg& leg, const Picture& picture) {
  const std::string seen = names(picture.local, Answer::Yes);
  if (!seen.empty()) grade.remarks.push_back(remark(leg.tables, kLocal, {{"signs", seen}}));
  const bool few = count(picture.local, Answer::Yes) < figure(leg.tables, kLocal, "signs");
  if (!picture.grade.beyondSkin || !few) return;
  grade.remarks.push_back(remark(leg.tables, "grade-wifi-beyond-skin"));
}

void remarkSystemic(Grade& grade, const Leg& leg, const Picture& picture) {
  if (picture.systemicResponse) remarkSystemicSigns(grade, leg, picture, kSystemic);
  if (!picture.systemicOpen) return;
  grade.remarks.push_back(remark(leg.tables, "grade-wifi-systemic-not-taken",
                                 {{"missing", names(picture.systemic, Answer::Unknown)}}));
}

void bySigns(Grade& grade, const Leg& leg, const Picture& picture) {
  const LocalGrade& local = picture.grade;
  if (local.mildest == 0 && local.worst == 0) {
    leaveUnknown(grade, leg, "grade-wifi-infection-too-few-signs");
    return;
  }
  const bool settled = local.mildest == local.worst;
  if (local.mildest == 0 || (!settled && !picture.systemicResponse)) {
    leaveUnknown(grade, leg, "grade-wifi-infection-missing", {{"missing", missing(leg, picture)}});
    return;
  }
  decideAs(grade, leg, picture.systemicResponse ? 3 : local.mildest);
  remarkLocalSigns(grade, leg, picture);
  remarkSystemic(grade, leg, picture);
}

void noteSystemic(Grade& grade, const Leg& leg) {
  for (const Item item : {Item::Temperature, Item::HeartRate, Item::RespiratoryRate,
                          Item::CarbonDioxide, Item::WhiteCells, Item::BandForms}) {
    const Reading* reading = leg.assessment.find(item, Side::None);
    if (reading == nullptr || std::holds_alternative<Absence>(reading->content)) continue;
    grade.inputs.push_back({item, Side::None});
  }
}

/// What the local signs leave possible; an infection with systemic signs is grade 3.
GradeRange left(const Picture& picture) {
  GradeRange range{picture.grade.mildest, picture.grade.worst};
  if (picture.stated == "present") range.mildest = std::max(range.mildest, 1);
  range.worst = std::max(range.worst, range.mildest);
  if (range.mildest > 0 && picture.systemicResponse) range.mildest = 3;
  if (range.worst > 0 && (picture.systemicResponse || picture.systemicOpen)) range.worst = 3;
  return range;
}

}  // namespace

Grade infectionGrade(const Leg& leg) {
  Grade grade = blankWifi(leg, "wifi-infection");
  noteInputs(
      grade, leg,
      {Item::Infection, Item::InfectionSwelling, Item::InfectionErythema, Item::InfectionTenderness,
       Item::InfectionWarmth, Item::InfectionPus, Item::InfectionDeep});
  noteSystemic(grade, leg);
  const Picture picture = pictureOf(leg);
  if (picture.stated == "absent") {
    saidAbsent(grade, leg, picture);
  } else if (picture.stated == "present" || picture.grade.mildest > 0) {
    bySigns(grade, leg, picture);
  } else {
    leaveUnknown(grade, leg, "grade-wifi-infection-not-recorded");
  }
  if (!grade.present() && picture.systemicResponse) {
    remarkSystemicSigns(grade, leg, picture, "grade-wifi-systemic-ungraded");
  }
  preferStated(grade, leg, Item::StatedInfection, left(picture));
  return grade;
}

}  // namespace footbridge::assess
