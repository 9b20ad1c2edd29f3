#include "support/generate.hpp"

#include <algorithm>
#include <array>
#include <random>

#include "json/writer.hpp"

namespace footbridge::test {
namespace {

/// Draws that are the same on every machine: the distributions of the standard library are not.
class Dice {
 public:
  Dice(std::uint64_t seed, std::uint64_t number) : engine_(seed * 1'000'003 + number) {}

  std::int32_t between(std::int32_t low, std::int32_t high) {
    const auto span = static_cast<std::uint64_t>(high - low + 1);
    return low + static_cast<std::int32_t>(engine_() % span);
  }
  bool chance(std::int32_t percent) { return between(1, 100) <= percent; }
  template <class List>
  const auto& pick(const List& list) {
    return list[static_cast<std::size_t>(between(0, static_cast<std::int32_t>(list.size()) - 1))];
  }

 private:
  std::mt19937_64 engine_;
};

/// A number of the range that is never issued (999...), with its check digit (modulus 11).
std::string testNhsNumber(Dice& dice) {
  for (;;) {
    std::string digits = "999";
    while (digits.size() < 9) digits += static_cast<char>('0' + dice.between(0, 9));
    std::int32_t sum = 0;
    for (std::size_t i = 0; i < 9; ++i)
      sum += (digits[i] - '0') * static_cast<std::int32_t>(10 - i);
    const std::int32_t check = (11 - sum % 11) % 11;
    if (check != 10) return digits + static_cast<char>('0' + check);
  }
}

std::string two(std::int32_t value) {
  return std::string(value < 10 ? "0" : "") + std::to_string(value);
}

/// One assessment while it is written.
class Generator {
 public:
  Generator(const Tables& tables, Dice& dice, std::uint64_t number)
      : tables_(tables), dice_(dice), number_(number) {}

  std::string write() {
    out_.beginObject();
    head();
    readings("/conditions", Side::None);
    readings("/history", Side::None);
    readings("/systemic", Side::None);
    readings("/exercise", Side::None);
    sides("arms");
    sides("legs");
    if (dice_.chance(30)) previous();
    if (dice_.chance(30))
      out_.member("note", "Invented. <b>5 > 3</b> & \"quoted\" \\ caf\u00e9 \U0001F9B6");
    out_.endObject();
    return std::string(out_.text());
  }

 private:
  void identifier(std::string_view name, std::string_view system, const std::string& value) {
    out_.name(name).beginObject().member("system", system).member("value", value).endObject();
  }

  void head() {
    static constexpr std::array<std::string_view, 5> kNames{"Okonkwo", "O'Brien", "Nguy\u1ec5n",
                                                            "Smith-Jones", "\u0141uczak"};
    out_.member("format", "footbridge-assessment-1");
    identifier("identifier", "https://generated.example/assessments",
               "G-" + std::to_string(number_));
    out_.member("status", dice_.chance(90) ? "final" : "preliminary");
    const std::string day = two(dice_.between(1, 28));
    out_.member("measuredAt", "2026-0" + std::to_string(dice_.between(1, 9)) + "-" + day + "T" +
                                  two(dice_.between(8, 17)) + ":" + two(dice_.between(0, 59)) +
                                  ":00+01:00");
    out_.name("patient").beginObject().name("identifiers").beginArray().beginObject();
    out_.member("system", "https://fhir.nhs.uk/Id/nhs-number")
        .member("value", testNhsNumber(dice_));
    out_.endObject().endArray().member("family", dice_.pick(kNames));
    out_.name("given").beginArray().string("Invented").endArray();
    out_.member("birthDate", "19" + two(dice_.between(30, 79)) + "-06-" + day).endObject();
    out_.name("performer").beginObject().member("name", dice_.pick(kNames)).endObject();
    out_.name("organization").beginObject().member("name", "Generated Clinic").endObject();
    if (dice_.chance(50)) instrument();
  }

  void instrument() {
    out_.name("instruments").beginArray().beginObject().member("kind", "doppler");
    out_.member("model", "Example").member("serial", std::to_string(dice_.between(1, 9)));
    out_.endObject().endArray();
  }

  void previous() {
    out_.name("previous").beginObject().member("measuredOn", "2025-06-30");
    sides("legs", "/previous");
    out_.endObject();
  }

  void sides(const std::string& group, const std::string& above = "") {
    out_.name(group).beginObject();
    for (const Side side : kSides) {
      if (!dice_.chance(95)) continue;
      out_.name(word(side)).beginObject();
      branch(above + "/" + group + "/" + std::string(word(side)), side);
      out_.endObject();
    }
    out_.endObject();
  }

  void readings(const std::string& prefix, Side side) {
    out_.name(prefix.substr(1)).beginObject();
    branch(prefix, side);
    out_.endObject();
  }

  /// Writes what lies below a pointer: leaves, then objects, each named once.
  void branch(const std::string& prefix, Side side) {
    std::string open;
    for (const ItemRow& row : tables_.items) {
      const std::string place = tables_.place(row.item, side);
      if (row.sided != (side != Side::None) || !place.starts_with(prefix + "/")) continue;
      const std::string rest = place.substr(prefix.size() + 1);
      const std::size_t slash = rest.find('/');
      const std::string group = slash == std::string::npos ? "" : rest.substr(0, slash);
      if (group != open) {
        if (!open.empty()) out_.endObject();
        if (!group.empty()) out_.name(group).beginObject();
        open = group;
      }
      if (dice_.chance(70)) leaf(slash == std::string::npos ? rest : rest.substr(slash + 1), row);
    }
    if (!open.empty()) out_.endObject();
  }

  void leaf(const std::string& name, const ItemRow& row) {
    out_.name(name);
    if (dice_.chance(8)) {
      out_.beginObject().member("absent", dice_.pick(absentReasons()).code);
      out_.member("note", "Invented reason < & >").endObject();
      return;
    }
    if (row.kind == Kind::Pressure) return pressure(row);
    if (row.kind == Kind::Number) return number(row);
    if (row.kind == Kind::Pulse && dice_.chance(30)) return gradedPulse();
    wordLeaf(row);
  }

  void wordLeaf(const ItemRow& row) {
    // A missing part of the leg would contradict the readings from it.
    const bool whole = row.item == Item::HistoryAmputation;
    out_.string(whole ? "none" : dice_.pick(tables_.wordList(row.words)->words).word);
  }

  void gradedPulse() {
    const PulseScale& scale = dice_.pick(tables_.pulseScales);
    out_.beginObject().name("grade").number(dice_.between(scale.lowest, scale.highest));
    out_.member("scale", scale.id).endObject();
  }

  std::pair<std::int32_t, std::int32_t> range(const ItemRow& row) const {
    if (row.item == Item::ArmSystolic || row.item == Item::ArmSystolicAfterExercise)
      return {90, 200};
    if (row.item == Item::ArmDiastolic) return {45, 85};
    if (row.item == Item::ToePressure) return {11, 150};
    const auto bound = [](const std::optional<Decimal>& first, const std::optional<Decimal>& second,
                          std::int32_t otherwise) {
      const auto& limit = first ? first : second;
      return limit ? static_cast<std::int32_t>(limit->floor()) : otherwise;
    };
    return {bound(row.limits.queryBelow, row.limits.rejectBelow, 1) + 1,
            bound(row.limits.queryAbove, row.limits.rejectAbove, 100) - 1};
  }

  bool readWithCuff(const ItemRow& row) const {
    return row.sided && row.item >= Item::AnkleDorsalisPedis && row.item <= Item::SegmentCalf;
  }

  void pressure(const ItemRow& row) {
    const auto [low, high] = range(row);
    // A pressure below 3 is taken for an index that was typed as one.
    const std::int32_t value = dice_.between(std::max(low, 5), std::max(low, high));
    if (readWithCuff(row) && dice_.chance(8)) {
      out_.beginObject().member("finding", "incompressible");
      if (dice_.chance(70)) out_.name("limit").number(300);
      out_.endObject();
    } else if (readWithCuff(row) && dice_.chance(6)) {
      out_.beginObject().member("finding", "no-signal").endObject();
    } else if (readWithCuff(row) && dice_.chance(6)) {
      out_.beginObject().name("value").number(value).member("comparator", "<").endObject();
    } else if (value > low && dice_.chance(6)) {
      out_.beginObject().name("repeats").beginArray().number(value).number(value - 1);
      out_.endArray().endObject();
    } else if (dice_.chance(10)) {
      out_.number(std::to_string(value) + ".5");
    } else {
      out_.number(value);
    }
  }

  /// Up to three decimals: an index with more than two is kept and not compared.
  void earlierIndex() {
    const std::int32_t value = dice_.between(30, 140);
    const std::string more = dice_.chance(10) ? "5" : "";
    out_.number((value < 100 ? "0." : "1.") + two(value % 100) + more);
  }

  void number(const ItemRow& row) {
    if (isPrevious(row.item)) return earlierIndex();
    const auto [low, high] = range(row);
    const std::int32_t value = dice_.between(low, std::max(low, high));
    out_.number(dice_.chance(30) ? std::to_string(value) + ".50" : std::to_string(value));
  }

  const Tables& tables_;
  Dice& dice_;
  std::uint64_t number_;
  json::Writer out_;
};

}  // namespace

std::string generateAssessment(const Tables& tables, std::uint64_t seed, std::uint64_t number) {
  Dice dice(seed, number);
  return Generator(tables, dice, number).write();
}

}  // namespace footbridge::test
