#include "csv/sample.hpp"

#include <algorithm>
#include <array>
#include <sstream>

#include "core/text.hpp"
#include "csv/clock.hpp"
#include "csv/rows.hpp"
#include "csv/source_map.hpp"

namespace footbridge::csv {
namespace {

constexpr std::size_t kSampleBytes = 1U << 20U;

bool digit(char c) { return c >= '0' && c <= '9'; }

/// The length of the number that a cell begins with after a sign of a bound.
std::string_view numberPart(std::string_view cell) {
  const std::size_t start = cell.find_first_not_of("<>= ");
  if (start == std::string_view::npos || !digit(cell[start])) return {};
  cell.remove_prefix(start);
  return cell.substr(0, cell.find_first_not_of("0123456789.,"));
}

bool commaDecimal(std::string_view cell) {
  const std::size_t comma = cell.find(',');
  return comma != std::string_view::npos && comma > 0 &&
         cell.find_first_not_of("0123456789,") == std::string_view::npos &&
         cell.find(',', comma + 1) == std::string_view::npos && comma + 1 < cell.size();
}

std::vector<Record> records(const std::string& bytes, char delimiter) {
  std::istringstream in(bytes);
  Rows rows(in, delimiter);
  std::vector<Record> out;
  while (out.size() <= kSampleRows) {
    std::optional<Numbered> next = rows.next();
    if (!next) break;
    if (next->record.fault == Fault::None) out.push_back(std::move(next->record));
  }
  return out;
}

/// How many columns the header has and how many rows agree with it.
std::size_t agreement(const std::vector<Record>& rows) {
  if (rows.empty() || rows.front().cells.size() < 2) return 0;
  const std::size_t width = rows.front().cells.size();
  const auto same = std::count_if(rows.begin(), rows.end(), [width](const Record& record) {
    return record.cells.size() == width;
  });
  return width + static_cast<std::size_t>(same);
}

}  // namespace

bool SampleColumn::mostlyNumbers() const {
  const auto numbers = std::count_if(cells.begin(), cells.end(), [](const std::string& cell) {
    return !numberPart(cell).empty();
  });
  return numbers > 0 && static_cast<std::size_t>(numbers) * 2 >= cells.size();
}

std::size_t SampleColumn::largest() const {
  std::size_t out = 0;
  for (const std::string& cell : cells) {
    std::size_t value = 0;
    for (const char c : numberPart(cell).substr(0, 9)) {
      if (!digit(c)) break;
      value = value * 10 + static_cast<std::size_t>(c - '0');
    }
    out = std::max(out, value);
  }
  return out;
}

Result<Sample> readSample(std::istream& in, const Issue& nothing) {
  std::string bytes;
  for (int c = in.rdbuf()->sbumpc(); c != EOF && bytes.size() < kSampleBytes;
       c = in.rdbuf()->sbumpc()) {
    bytes += static_cast<char>(c);
  }
  // Cut at a line, so that neither a row nor a character is halved.
  if (bytes.size() == kSampleBytes) bytes.resize(bytes.rfind('\n') + 1);
  Sample out;
  std::vector<Record> best;
  for (const char delimiter : {',', ';', '\t'}) {
    std::vector<Record> rows = records(bytes, delimiter);
    if (agreement(rows) <= agreement(best)) continue;
    best = std::move(rows);
    out.delimiter = delimiter;
  }
  if (best.empty()) return nothing;
  out.encoding = validUtf8(bytes) ? Encoding::Utf8 : Encoding::Windows1252;
  for (std::size_t i = 0; i < best.front().cells.size(); ++i) {
    SampleColumn column;
    for (const Record& record : best) {
      const bool there = i < record.cells.size();
      std::string text = there ? decoded(record.cells[i], out.encoding).value_or("") : "";
      if (&record == &best.front()) {
        column.name = squeezed(text);
      } else if (!trimmed(text).empty()) {
        column.cells.emplace_back(trimmed(text));
        out.decimalComma = out.decimalComma || commaDecimal(trimmed(text));
      }
    }
    if (!column.name.empty()) out.columns.push_back(std::move(column));
  }
  return out;
}

std::vector<std::string> patternsFor(const std::vector<std::string>& cells) {
  static constexpr std::array<std::string_view, 14> kPatterns{
      "yyyy-mm-dd",  "dd/mm/yyyy",  "mm/dd/yyyy", "dd.mm.yyyy", "dd-mm-yyyy",
      "dd mmm yyyy", "dd-mmm-yyyy", "yyyy/mm/dd", "dd/mm/yy",   "mm/dd/yy",
      "dd.mm.yy",    "dd-mm-yy",    "dd-mmm-yy",  "mmm dd yyyy"};
  std::vector<std::string> out;
  std::size_t most = cells.size() - cells.size() / 10;
  for (const std::string_view text : kPatterns) {
    const DatePattern pattern = *DatePattern::of(text);
    const auto fitting = std::count_if(cells.begin(), cells.end(), [&](const std::string& cell) {
      std::string_view rest;
      return pattern.read(cell, rest).has_value();
    });
    const auto count = static_cast<std::size_t>(fitting);
    if (count == 0 || count < most) continue;
    if (count > most) out.clear();
    most = count;
    out.emplace_back(text);
  }
  return out;
}

bool allNhsNumbers(const std::vector<std::string>& cells) {
  const auto valid = [](const std::string& cell) {
    std::string digits;
    std::copy_if(cell.begin(), cell.end(), std::back_inserter(digits), digit);
    if (digits.size() != 10 || cell.find_first_not_of("0123456789 -") != std::string::npos) {
      return false;
    }
    int sum = 0;
    for (int i = 0; i < 9; ++i) sum += (10 - i) * (digits[static_cast<std::size_t>(i)] - '0');
    return (11 - sum % 11) % 11 == digits[9] - '0';
  };
  return !cells.empty() && std::all_of(cells.begin(), cells.end(), valid);
}

}  // namespace footbridge::csv
