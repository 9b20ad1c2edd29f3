// The consensus class of each Doppler term (Kim 2020). A term with two accepted meanings gets none.

#include <array>

#include "assess/grade_schemes.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr std::string_view kConsensus = "svm-svu-2020";

constexpr std::array kDopplerItems{Item::DopplerFemoral,       Item::DopplerPopliteal,
                                   Item::DopplerDorsalisPedis, Item::DopplerPosteriorTibial,
                                   Item::DopplerPeroneal,      Item::DopplerAnteriorTibial};

void explain(Grade& grade, const WaveformRow& row, const Leg& leg, Item item) {
  if (!row.remark.empty()) {
    grade.remarks.push_back(remark(leg.tables, row.remark, {{"word", row.word}}));
  }
  if (!row.outcome.empty()) return;
  leaveOpen(grade, AbsentReason::NotApplicable,
            sentence(leg.tables, "grade-waveform-ambiguous",
                     {{"reading", leg.tables.naming(item, leg.side)}, {"word", row.word}}));
}

void leaveWithoutWord(Grade& grade, const Leg& leg, Item item, const Reading& reading) {
  const Rule& rule = leg.tables.rule("grade-waveform-none");
  const auto* absence = std::get_if<Absence>(&reading.content);
  grade.source = rule.source.text;
  grade.certainty = rule.source.certainty;
  leaveOpen(grade, absence == nullptr ? AbsentReason::Unknown : absence->reason,
            rule.sentence.fill({{"reading", leg.tables.naming(item, leg.side)}}));
}

Grade waveformGrade(const Leg& leg, Item item, const Reading& reading) {
  Grade grade = blank(leg, "waveform-class", kConsensus);
  grade.item = item;
  const WaveformRow* row = leg.tables.waveform(chosenWord(&reading));
  if (row == nullptr) {
    leaveWithoutWord(grade, leg, item, reading);
    return grade;
  }
  noteInputs(grade, leg, {item});
  decide(grade, row->outcome, row->word, row->source);
  explain(grade, *row, leg, item);
  return grade;
}

}  // namespace

void addWaveformGrades(const Leg& leg, std::vector<Grade>& grades) {
  for (const Item item : kDopplerItems) {
    const Reading* reading = leg.find(item);
    if (reading != nullptr) grades.push_back(waveformGrade(leg, item, *reading));
  }
}

}  // namespace footbridge::assess
