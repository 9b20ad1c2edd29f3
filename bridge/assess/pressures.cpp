#include "assess/pressures.hpp"

#include <algorithm>
#include <array>

#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

/// A reading with what can be made of it.
struct Site {
  Item item{};
  Side side = Side::None;
  const Reading* reading = nullptr;
  PressureState state = PressureState::NotSent;

  bool is(PressureState wanted) const { return state == wanted; }
  Pressure pressure() const { return std::get<Pressure>(reading->content); }
};

Site siteOf(const Assessment& assessment, Item item, Side side) {
  const Reading* reading = assessment.find(item, side);
  return {item, side, reading, stateOf(reading)};
}

using Pair = std::array<Site, 2>;

Pair ankleSites(const Assessment& assessment, Side side) {
  return {siteOf(assessment, Item::AnkleDorsalisPedis, side),
          siteOf(assessment, Item::AnklePosteriorTibial, side)};
}

bool any(const Pair& pair, PressureState state) { return pair[0].is(state) || pair[1].is(state); }
bool all(const Pair& pair, PressureState state) { return pair[0].is(state) && pair[1].is(state); }

const Site& plainOne(const Pair& pair) {
  return pair[0].is(PressureState::Plain) ? pair[0] : pair[1];
}
const Site& otherThanPlain(const Pair& pair) {
  return pair[0].is(PressureState::Plain) ? pair[1] : pair[0];
}

void note(std::vector<ReadingRef>& inputs, const Site& site) {
  if (site.is(PressureState::NotSent) || site.is(PressureState::Absent)) return;
  inputs.push_back({site.item, site.side});
}

std::vector<ReadingRef> inputsOf(const Pair& pair) {
  std::vector<ReadingRef> inputs;
  for (const Site& site : pair) note(inputs, site);
  return inputs;
}

/// An artery that did not yield or gave no signal has a pressure that nobody knows: "not
/// applicable" is for a part that is not there.
AbsentReason reasonOf(const Site& site) {
  switch (site.state) {
    case PressureState::Absent:
      return std::get<Absence>(site.reading->content).reason;
    case PressureState::Zero:
      return AbsentReason::Error;
    default:
      return AbsentReason::Unknown;
  }
}

std::string limitOf(const Site& site, const Tables& tables) {
  std::optional<Pressure> limit;
  if (const auto* finding = std::get_if<Incompressible>(&site.reading->content)) {
    limit = finding->limit;
  } else {
    limit = site.pressure();
  }
  if (!limit) return sentence(tables, "derive-limit-not-recorded");
  return sentence(tables, "derive-limit", {{"limit", limit->text()}});
}

/// Why the reading is no plain pressure.
std::string whyNot(const Site& site, const Tables& tables) {
  const std::string& name = tables.naming(site.item, site.side);
  switch (site.state) {
    case PressureState::NotSent:
      return tables.missing(site.item, site.side);
    case PressureState::Absent: {
      const auto reason = static_cast<std::size_t>(reasonOf(site));
      return sentence(tables, "derive-absent",
                      {{"reading", name}, {"why", absentReasons()[reason].words}});
    }
    case PressureState::Zero:
      return sentence(tables, "derive-zero", {{"reading", name}});
    case PressureState::Below:
      return sentence(tables, "derive-bound",
                      {{"reading", name},
                       {"comparator", symbol(site.reading->comparator)},
                       {"bound", site.pressure().text()}});
    case PressureState::Hard:
      return sentence(tables, "derive-incompressible",
                      {{"reading", name}, {"limit", limitOf(site, tables)}});
    case PressureState::NoSignal:
      return sentence(tables, "derive-no-signal", {{"reading", name}});
    case PressureState::Plain:
      break;
  }
  return {};
}

/// No pressure of two sites, with the reason of the one that says most.
Chosen noneOf(const Pair& pair, const Tables& tables) {
  Chosen chosen{.inputs = inputsOf(pair)};
  for (const Site& site : pair) join(chosen.because, whyNot(site, tables));
  const bool firstSaysMore =
      !pair[0].is(PressureState::NotSent) && !pair[0].is(PressureState::Plain);
  chosen.reason = reasonOf(firstSaysMore ? pair[0] : pair[1]);
  return chosen;
}

Chosen hardAnkle(const Pair& pair, const Tables& tables) {
  Chosen chosen = noneOf(pair, tables);
  chosen.reason = AbsentReason::Unknown;
  if (!all(pair, PressureState::Hard))
    join(chosen.because, sentence(tables, "derive-higher-unknown"));
  return chosen;
}

Chosen oneArtery(const Pair& pair, const Tables& tables) {
  Chosen chosen{.pressure = plainOne(pair).pressure(),
                .method = sentence(tables, "derive-ankle-only-one"),
                .inputs = inputsOf(pair)};
  chosen.remarks.push_back(
      remark(tables, "derive-one-artery",
             {{"reading", tables.naming(plainOne(pair).item, plainOne(pair).side)},
              {"other", whyNot(otherThanPlain(pair), tables)}}));
  return chosen;
}

/// True if one of two sites is known only by an upper bound and the other is not below that bound.
bool higherThanBound(const Pair& pair) {
  return any(pair, PressureState::Plain) && any(pair, PressureState::Below) &&
         plainOne(pair).pressure() >= otherThanPlain(pair).pressure();
}

/// The plain one of two, which is the higher.
Chosen overBound(const Pair& pair, std::string_view method, const Tables& tables) {
  const Site& bounded = otherThanPlain(pair);
  Chosen chosen{.pressure = plainOne(pair).pressure(),
                .method = sentence(tables, method),
                .inputs = inputsOf(pair)};
  chosen.remarks.push_back(remark(tables, "derive-bound-is-lower",
                                  {{"reading", tables.naming(bounded.item, bounded.side)},
                                   {"comparator", symbol(bounded.reading->comparator)},
                                   {"bound", bounded.pressure().text()}}));
  return chosen;
}

Chosen boundedAnkle(const Pair& pair, const Tables& tables) {
  if (higherThanBound(pair)) return overBound(pair, "derive-ankle-higher", tables);
  Chosen chosen = noneOf(pair, tables);
  chosen.reason = AbsentReason::Unknown;
  join(chosen.because, sentence(tables, "derive-higher-unknown"));
  return chosen;
}

/// Only where dorsalis pedis and posterior tibial were both looked for and not found.
Chosen peroneal(const Pair& pair, const Site& third, const Tables& tables) {
  Chosen chosen = noneOf(pair, tables);
  if (third.is(PressureState::NotSent)) return chosen;
  note(chosen.inputs, third);
  if (!third.is(PressureState::Plain)) {
    join(chosen.because, whyNot(third, tables));
    return chosen;
  }
  chosen.because.clear();
  chosen.pressure = third.pressure();
  chosen.method = sentence(tables, "derive-ankle-peroneal");
  chosen.remarks.push_back(
      remark(tables, "derive-peroneal-used", {{"reading", tables.naming(third.item, third.side)}}));
  return chosen;
}

Chosen oneArm(const Pair& pair, const Tables& tables) {
  const Site& measured = plainOne(pair);
  Chosen chosen{.pressure = measured.pressure(),
                .method = sentence(tables, "derive-arm-only-one"),
                .inputs = inputsOf(pair)};
  chosen.remarks.push_back(remark(tables, "derive-one-arm",
                                  {{"reading", tables.naming(measured.item, measured.side)},
                                   {"other", whyNot(otherThanPlain(pair), tables)}}));
  return chosen;
}

/// An arm that was looked at without yielding a plain pressure could be the higher.
bool couldBeHigher(const Site& site) {
  return site.is(PressureState::Below) || site.is(PressureState::Hard) ||
         site.is(PressureState::NoSignal) || site.is(PressureState::Zero);
}

std::optional<Span> spanAt(const Site& site) {
  const bool usable = site.is(PressureState::Plain) || site.is(PressureState::Below);
  return usable ? spanOf(site.reading) : std::nullopt;
}

void twoSpans(AnkleSpans& spans, const Span& first, const Span& second) {
  const bool firstTops = first.highest >= second.highest;
  const Span& top = firstTops ? first : second;
  const Span& other = firstTops ? second : first;
  spans.higher = Span{std::max(first.lowest, second.lowest), top.highest, top.under};
  spans.lower = Span{std::min(first.lowest, second.lowest), other.highest, other.under};
}

void peronealSpan(AnkleSpans& spans, const Site& third) {
  spans.higher = spanAt(third);
  spans.hard = third.is(PressureState::Hard);
  note(spans.inputs, third);
}

}  // namespace

PressureState stateOf(const Reading* reading) {
  if (reading == nullptr) return PressureState::NotSent;
  if (incompressible(reading)) return PressureState::Hard;
  if (noSignal(reading)) return PressureState::NoSignal;
  const auto* pressure = std::get_if<Pressure>(&reading->content);
  if (pressure == nullptr) return PressureState::Absent;
  if (pressure->halves <= 0) return PressureState::Zero;
  return reading->comparator == Comparator::None ? PressureState::Plain : PressureState::Below;
}

std::optional<Pressure> highestOf(const Reading* reading) {
  const PressureState state = stateOf(reading);
  if (state != PressureState::Plain && state != PressureState::Below) return std::nullopt;
  const Pressure bound = std::get<Pressure>(reading->content);
  return Pressure{bound.halves - (reading->comparator == Comparator::Less ? 1 : 0)};
}

Chosen onePressure(const Assessment& assessment, Item item, Side side, const Tables& tables) {
  const Site site = siteOf(assessment, item, side);
  Chosen chosen;
  note(chosen.inputs, site);
  if (site.is(PressureState::Plain)) {
    chosen.pressure = site.pressure();
    chosen.method = sentence(tables, "derive-as-read", {{"reading", tables.naming(item, side)}});
    return chosen;
  }
  chosen.reason = reasonOf(site);
  chosen.because = whyNot(site, tables);
  return chosen;
}

Chosen armPressure(const Assessment& assessment, const Tables& tables, Item item) {
  const Pair arms{siteOf(assessment, item, Side::Right), siteOf(assessment, item, Side::Left)};
  if (all(arms, PressureState::Plain)) {
    return {.pressure = std::max(arms[0].pressure(), arms[1].pressure()),
            .method = sentence(tables, "derive-arm-higher"),
            .inputs = inputsOf(arms)};
  }
  if (higherThanBound(arms)) return overBound(arms, "derive-arm-higher", tables);
  if (couldBeHigher(arms[0]) || couldBeHigher(arms[1])) {
    Chosen chosen = noneOf(arms, tables);
    join(chosen.because, sentence(tables, "derive-higher-arm-unknown"));
    return chosen;
  }
  return any(arms, PressureState::Plain) ? oneArm(arms, tables) : noneOf(arms, tables);
}

Chosen anklePressure(const Assessment& assessment, Side side, const Tables& tables) {
  const Pair pair = ankleSites(assessment, side);
  if (any(pair, PressureState::Hard)) return hardAnkle(pair, tables);
  if (any(pair, PressureState::Below)) return boundedAnkle(pair, tables);
  if (all(pair, PressureState::Plain)) {
    return {.pressure = std::max(pair[0].pressure(), pair[1].pressure()),
            .method = sentence(tables, "derive-ankle-higher"),
            .inputs = inputsOf(pair)};
  }
  if (any(pair, PressureState::Plain)) return oneArtery(pair, tables);
  if (!all(pair, PressureState::NoSignal)) return noneOf(pair, tables);
  return peroneal(pair, siteOf(assessment, Item::AnklePeroneal, side), tables);
}

Chosen lowerAnklePressure(const Assessment& assessment, Side side, const Tables& tables) {
  const Pair pair = ankleSites(assessment, side);
  if (!all(pair, PressureState::Plain)) return noneOf(pair, tables);
  return {.pressure = std::min(pair[0].pressure(), pair[1].pressure()),
          .method = sentence(tables, "derive-ankle-lower"),
          .inputs = inputsOf(pair)};
}

AnkleSpans ankleSpans(const Assessment& assessment, Side side) {
  const Pair pair = ankleSites(assessment, side);
  const auto first = spanAt(pair[0]);
  const auto second = spanAt(pair[1]);
  AnkleSpans spans{.inputs = inputsOf(pair)};
  spans.hard = any(pair, PressureState::Hard);
  if (spans.hard) {
    spans.lower = first ? first : second;
  } else if (first && second) {
    twoSpans(spans, *first, *second);
  } else if (first || second) {
    spans.higher = first ? first : second;
  } else if (all(pair, PressureState::NoSignal)) {
    peronealSpan(spans, siteOf(assessment, Item::AnklePeroneal, side));
  }
  return spans;
}

}  // namespace footbridge::assess
