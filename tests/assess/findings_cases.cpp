#include "findings_cases.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <sstream>

#include "intake/repeats.hpp"

namespace footbridge::findings_test {
namespace {

[[noreturn]] void stop(const std::string& why) {
  std::fprintf(stderr, "test table: %s\n", why.c_str());
  std::abort();
}

bool takePrefix(std::string_view& text, std::string_view prefix) {
  if (text.substr(0, prefix.size()) != prefix) return false;
  text.remove_prefix(prefix.size());
  return true;
}

Side takeSide(std::string_view& text) {
  if (takePrefix(text, "R:")) return Side::Right;
  return takePrefix(text, "L:") ? Side::Left : Side::None;
}

Item itemOf(std::string_view name) {
  const auto found = std::find(kItemIds.begin(), kItemIds.end(), name);
  if (found == kItemIds.end()) stop("no item " + std::string{name});
  return static_cast<Item>(found - kItemIds.begin());
}

Comparator takeComparator(std::string_view& text) {
  if (takePrefix(text, "<=")) return Comparator::LessOrEqual;
  if (takePrefix(text, ">=")) return Comparator::GreaterOrEqual;
  if (takePrefix(text, "<")) return Comparator::Less;
  return takePrefix(text, ">") ? Comparator::Greater : Comparator::None;
}

Pressure pressureOf(std::string_view text) {
  const auto value = Decimal::parse(text);
  if (!value) stop("no pressure " + std::string{text});
  const auto whole = static_cast<std::int32_t>(value->floor());
  return {2 * whole + (value->whole() ? 0 : 1)};
}

Content absenceOf(std::string_view code) {
  const auto& rows = absentReasons();
  const auto found = std::find_if(rows.begin(), rows.end(),
                                  [=](const AbsentReasonRow& row) { return row.code == code; });
  if (found == rows.end()) stop("no reason " + std::string{code});
  return Absence{static_cast<AbsentReason>(found - rows.begin())};
}

Content wordOf(const ItemRow& row, std::string_view text) {
  const WordList* list = mapping().wordList(row.words);
  if (list == nullptr) stop("no words for " + row.label);
  for (const WordRow& word : list->words) {
    if (word.word == text) return Word{word.word};
  }
  stop("no word " + std::string{text} + " in " + row.words);
}

/// "158,146": what intake makes of several readings.
Content settledOf(Item item, std::string_view text) {
  std::vector<Pressure> repeats;
  for (const std::string& one : split(text, ',')) repeats.push_back(pressureOf(one));
  return intake::settle(repeats, item, mapping()).pressure;
}

Content contentOf(Item item, std::string_view text) {
  const ItemRow& row = mapping().row(item);
  if (takePrefix(text, "repeats:")) return settledOf(item, text);
  if (takePrefix(text, "absent:")) return absenceOf(text);
  if (takePrefix(text, "incompressible:")) return Incompressible{pressureOf(text)};
  if (row.kind == Kind::Pressure && text == "incompressible") return Incompressible{};
  if (row.kind == Kind::Pressure && text == "no-signal") return NoSignal{};
  if (row.kind == Kind::Pressure) return pressureOf(text);
  if (row.kind == Kind::Number) return *Decimal::parse(text);
  return wordOf(row, text);
}

Reading readingOf(std::string_view token) {
  Reading reading;
  reading.side = takeSide(token);
  const std::size_t equals = token.find('=');
  if (equals == std::string_view::npos) stop("no value in " + std::string{token});
  reading.item = itemOf(token.substr(0, equals));
  token.remove_prefix(equals + 1);
  reading.comparator = takeComparator(token);
  reading.content = contentOf(reading.item, token);
  return reading;
}

/// One expectation, taken apart.
struct Expected {
  Side side = Side::None;
  std::string_view name;
  std::string_view which;  ///< rule set, or item of a Doppler reading
  char kind = ' ';
  std::string_view value;
};

Expected expectedOf(std::string_view token) {
  Expected out;
  out.side = takeSide(token);
  const std::size_t end = token.find_first_of("=+!@?");
  out.name = token.substr(0, end);
  if (end != std::string_view::npos) {
    out.kind = token[end];
    out.value = token.substr(end + 1);
  }
  const std::size_t slash = out.name.find('/');
  if (slash != std::string_view::npos) {
    out.which = out.name.substr(slash + 1);
    out.name = out.name.substr(0, slash);
  }
  return out;
}

const Index* indexOf(const Findings& findings, const Expected& expected) {
  const auto found = std::find(kIndexIds.begin(), kIndexIds.end(), expected.name);
  if (found == kIndexIds.end()) return nullptr;
  return findings.find(static_cast<IndexKind>(found - kIndexIds.begin()), expected.side);
}

const Grade* gradeOf(const Findings& findings, const Expected& expected) {
  if (expected.name != "waveform-class") {
    return findings.find(expected.name, expected.side, expected.which);
  }
  const auto found =
      std::find_if(findings.grades.begin(), findings.grades.end(), [&](const Grade& grade) {
        return grade.item == itemOf(expected.which) && grade.side == expected.side;
      });
  return found == findings.grades.end() ? nullptr : &*found;
}

/// The sentence of a rule as far as its first argument.
std::string beginning(std::string_view rule) {
  const std::string& text = mapping().rule(rule).sentence.text();
  const std::string start = text.substr(0, text.find('{'));
  if (!start.empty()) return start;
  return text.substr(text.find('}') + 1, text.find('{', 1) - text.find('}') - 1);
}

bool has(const std::vector<Remark>& remarks, std::string_view rule) {
  if (mapping().rule(rule).id != rule) stop("no rule " + std::string{rule});
  return std::any_of(remarks.begin(), remarks.end(),
                     [=](const Remark& remark) { return remark.rule == rule; });
}

void checkReason(std::string_view wanted, AbsentReason reason, const std::string& because) {
  EXPECT_FALSE(because.empty());
  if (wanted.empty()) return;
  EXPECT_EQ(absentReasons()[static_cast<std::size_t>(reason)].code, wanted);
}

std::string valueOf(const Index& index) {
  if (index.tenths) return tenthsText(*index.tenths);
  if (index.hundredths) return hundredthsText(*index.hundredths);
  return index.difference ? index.difference->text() : "";
}

/// "-12" is a difference, "-" and "-not-performed" are reasons.
bool isReason(std::string_view wanted) {
  const bool number = wanted.size() > 1 && std::isdigit(static_cast<unsigned char>(wanted[1])) != 0;
  return !wanted.empty() && wanted.front() == '-' && !number;
}

void checkValue(const Index& index, std::string_view wanted) {
  if (!isReason(wanted)) {
    EXPECT_EQ(valueOf(index), wanted) << index.because;
    return;
  }
  EXPECT_FALSE(index.present()) << valueOf(index);
  checkReason(wanted.substr(1), index.reason, index.because);
}

void checkValue(const Grade& grade, std::string_view wanted) {
  if (!takePrefix(wanted, "-")) {
    EXPECT_EQ(grade.outcome, wanted) << grade.because;
    if (!grade.outcome.empty()) {
      EXPECT_FALSE(grade.source.empty());
    }
    return;
  }
  EXPECT_FALSE(grade.present()) << grade.outcome;
  checkReason(wanted, grade.reason, grade.because);
}

template <class Result>
void checkResult(const Result& result, const Expected& expected) {
  if (expected.kind == '=') checkValue(result, expected.value);
  if (expected.kind == '+') {
    EXPECT_TRUE(has(result.remarks, expected.value));
  }
  if (expected.kind == '!') {
    EXPECT_FALSE(has(result.remarks, expected.value));
  }
  if (expected.kind == '?') {
    EXPECT_NE(result.because.find(beginning(expected.value)), std::string::npos) << result.because;
  }
}

void checkFlag(const Findings& findings, std::string_view token) {
  const bool wanted = !takePrefix(token, "!");
  const Side side = takeSide(token);
  if (mapping().rule(token).id != token) stop("no rule " + std::string{token});
  const bool raised =
      std::any_of(findings.flags.begin(), findings.flags.end(), [&](const Flag& flag) {
        return flag.rule == token && (side == Side::None || flag.side == side);
      });
  EXPECT_EQ(raised, wanted);
}

bool concernsFlag(std::string_view token) {
  takePrefix(token, "!");
  takeSide(token);
  return token.substr(0, 5) == "flag-";
}

void checkToken(const Findings& findings, std::string_view token) {
  SCOPED_TRACE(std::string{token});
  if (concernsFlag(token)) {
    checkFlag(findings, token);
    return;
  }
  const Expected expected = expectedOf(token);
  if (const Index* index = indexOf(findings, expected)) {
    checkResult(*index, expected);
    return;
  }
  const Grade* grade = gradeOf(findings, expected);
  ASSERT_NE(grade, nullptr) << "nothing of that name";
  checkResult(*grade, expected);
  if (expected.kind == '@') {
    EXPECT_EQ(grade->rule, expected.value);
  }
}

std::size_t declaredRows(const std::string& line, const std::string& path) {
  constexpr std::string_view kStart = "# rows ";
  if (line.compare(0, kStart.size(), kStart) != 0) stop(path + " does not begin with # rows");
  return static_cast<std::size_t>(std::stoul(line.substr(kStart.size())));
}

}  // namespace

const Tables& mapping() {
  static const Result<Tables> kTables = loadTables(FOOTBRIDGE_MAPPING_DIR);
  if (!kTables) {
    for (const Issue& issue : kTables.issues()) {
      std::fprintf(stderr, "%s %s\n", issue.place.c_str(), issue.text.c_str());
    }
    std::abort();
  }
  return *kTables;
}

std::ostream& operator<<(std::ostream& out, const Case& value) { return out << value.name; }

std::vector<std::string> split(std::string_view text, char separator) {
  std::vector<std::string> parts;
  std::stringstream in{std::string{text}};
  for (std::string part; std::getline(in, part, separator);) parts.push_back(part);
  return parts;
}

std::vector<std::vector<std::string>> rowsOf(std::string_view file, std::size_t columns) {
  const std::string path = std::string{FOOTBRIDGE_TEST_DIR} + "/cases/" + std::string{file};
  std::ifstream in{path};
  std::string line;
  if (!std::getline(in, line)) stop("cannot read " + path);
  const std::size_t declared = declaredRows(line, path);
  std::getline(in, line);
  std::vector<std::vector<std::string>> rows;
  while (std::getline(in, line)) {
    rows.push_back(split(line, '\t'));
    if (rows.back().size() != columns) stop(path + ": wrong number of columns: " + line);
  }
  if (rows.size() != declared) stop(path + " has " + std::to_string(rows.size()) + " rows");
  return rows;
}

std::vector<Case> casesOf(std::string_view file) {
  std::vector<Case> cases;
  for (const auto& row : rowsOf(file, 4)) cases.push_back({row[0], row[1], row[2], row[3]});
  return cases;
}

Assessment assessmentOf(std::string_view readings) {
  Assessment assessment;
  for (const std::string& token : split(readings, ' ')) {
    if (!token.empty() && token != "-") assessment.readings.push_back(readingOf(token));
  }
  sortReadings(assessment);
  return assessment;
}

Findings findingsOf(std::string_view readings) {
  return findOut(assessmentOf(readings), mapping());
}

void check(const Case& line) {
  SCOPED_TRACE(line.readings + "  [" + line.source + "]");
  const Findings findings = findingsOf(line.readings);
  EXPECT_FALSE(line.source.empty());
  for (const std::string& token : split(line.expected, ' ')) checkToken(findings, token);
}

std::vector<std::string> sentencesOf(const Findings& findings) {
  std::vector<std::string> said;
  for (const Index& index : findings.indices) {
    said.push_back(index.because);
    said.push_back(index.method);
    for (const Remark& remark : index.remarks) said.push_back(remark.text);
  }
  for (const Grade& grade : findings.grades) {
    said.push_back(grade.because);
    for (const Remark& remark : grade.remarks) said.push_back(remark.text);
  }
  for (const Flag& flag : findings.flags) said.push_back(flag.text);
  std::erase(said, "");
  return said;
}

std::string testName(std::string_view sentence) {
  std::string name;
  for (const char letter : sentence) {
    const bool allowed = std::isalnum(static_cast<unsigned char>(letter)) != 0;
    if (allowed) {
      name += letter;
    } else if (!name.empty() && name.back() != '_') {
      name += '_';
    }
  }
  return name;
}

}  // namespace footbridge::findings_test
