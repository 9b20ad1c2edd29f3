#include "model/assessment.hpp"

#include <algorithm>
#include <array>
#include <tuple>

namespace footbridge {
namespace {

auto key(const Reading& reading) { return std::tuple{reading.item, reading.side}; }

template <class T>
std::optional<T> plain(const Reading* reading) {
  if (reading == nullptr || reading->comparator != Comparator::None) return std::nullopt;
  const T* value = std::get_if<T>(&reading->content);
  return value == nullptr ? std::nullopt : std::optional<T>{*value};
}

}  // namespace

std::string Pressure::text() const {
  const std::int32_t size = halves < 0 ? -halves : halves;
  std::string out = (halves < 0 ? "-" : "") + std::to_string(size / 2);
  if (size % 2 != 0) out += ".5";
  return out;
}

std::string_view symbol(Comparator comparator) {
  static constexpr std::array<std::string_view, 5> kSymbols{"", "<", "<=", ">=", ">"};
  return kSymbols[static_cast<std::size_t>(comparator)];
}

const std::array<AbsentReasonRow, 15>& absentReasons() {
  static constexpr std::array<AbsentReasonRow, 15> kRows{{
      {"unknown", "Unknown", "not known"},
      {"asked-unknown", "Asked But Unknown", "asked, and not known"},
      {"temp-unknown", "Temporarily Unknown", "not known yet"},
      {"not-asked", "Not Asked", "not asked"},
      {"asked-declined", "Asked But Declined", "declined"},
      {"masked", "Masked", "withheld"},
      {"not-applicable", "Not Applicable", "not applicable"},
      {"unsupported", "Unsupported", "cannot be recorded where it was taken"},
      {"as-text", "As Text", "described in words only"},
      {"error", "Error", "the measurement failed"},
      {"not-a-number", "Not a Number (NaN)", "not a number"},
      {"negative-infinity", "Negative Infinity (NINF)", "below every figure"},
      {"positive-infinity", "Positive Infinity (PINF)", "above every figure"},
      {"not-performed", "Not Performed", "not measured"},
      {"not-permitted", "Not Permitted", "not permitted"},
  }};
  return kRows;
}

const Reading* Assessment::find(Item item, Side side) const {
  if (starts.back() == readings.size()) {
    const std::uint16_t end = starts[static_cast<std::size_t>(item) + 1];
    std::uint16_t at = starts[static_cast<std::size_t>(item)];
    while (at < end && readings[at].side != side) ++at;
    return at == end ? nullptr : &readings[at];
  }
  const auto found = std::lower_bound(
      readings.begin(), readings.end(), std::tuple{item, side},
      [](const Reading& reading, const auto& wanted) { return key(reading) < wanted; });
  const bool hit = found != readings.end() && found->item == item && found->side == side;
  return hit ? &*found : nullptr;
}

void sortReadings(Assessment& assessment) {
  std::vector<Reading>& readings = assessment.readings;
  std::vector<std::pair<std::tuple<Item, Side>, std::size_t>> order;
  order.reserve(readings.size());
  for (const Reading& reading : readings) order.emplace_back(key(reading), order.size());
  std::sort(order.begin(), order.end());
  std::vector<Reading> sorted;  // readings are large: each is moved once
  sorted.reserve(readings.size());
  for (const auto& [ignored, from] : order) sorted.push_back(std::move(readings[from]));
  readings = std::move(sorted);
  std::size_t at = 0;
  for (std::size_t item = 0; item <= kItemCount; ++item) {
    while (at < readings.size() && static_cast<std::size_t>(readings[at].item) < item) ++at;
    assessment.starts[item] = static_cast<std::uint16_t>(at);
  }
}

std::optional<Pressure> plainPressure(const Reading* reading) { return plain<Pressure>(reading); }

std::optional<Decimal> plainNumber(const Reading* reading) { return plain<Decimal>(reading); }

std::string_view chosenWord(const Reading* reading) {
  if (reading == nullptr) return {};
  if (const auto* word = std::get_if<Word>(&reading->content)) return word->text;
  if (const auto* pulse = std::get_if<GradedPulse>(&reading->content)) return pulse->word;
  return {};
}

std::string_view word(Status status) {
  static constexpr std::array<std::string_view, 4> kWords{"preliminary", "final", "corrected",
                                                          "entered-in-error"};
  return kWords[static_cast<std::size_t>(status)];
}

bool incompressible(const Reading* reading) {
  if (reading == nullptr) return false;
  if (std::holds_alternative<Incompressible>(reading->content)) return true;
  return std::holds_alternative<Pressure>(reading->content) &&
         reading->comparator >= Comparator::GreaterOrEqual;
}

bool noSignal(const Reading* reading) {
  return reading != nullptr && std::holds_alternative<NoSignal>(reading->content);
}

}  // namespace footbridge
