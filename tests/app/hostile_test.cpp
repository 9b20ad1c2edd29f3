// Thousands of inputs that no clinic means to send, through the whole pipeline under the
// sanitizers. What cannot be right is refused, and with something a person can act on; what happens
// to stay right comes out as well-formed FHIR.

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <random>
#include <sstream>

#include "app/pipeline.hpp"
#include "app/report.hpp"
#include "core/file.hpp"
#include "core/text.hpp"
#include "support/edit_json.hpp"

namespace footbridge::test {
namespace {

using Random = std::mt19937_64;

constexpr std::size_t kLeastInputs = 3000;
constexpr std::uint64_t kSeed = 20261125;

const Tables& tables() {
  static const Tables kTables = *embeddedTables();
  return kTables;
}

/// The bytes of every file of examples/clinic, in order.
const std::vector<std::string>& examples() {
  static const std::vector<std::string> kExamples = [] {
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(FOOTBRIDGE_EXAMPLES "/clinic")) {
      files.push_back(entry.path());
    }
    std::sort(files.begin(), files.end());
    std::vector<std::string> out;
    for (const auto& file : files) out.push_back(*readFile(file));
    return out;
  }();
  return kExamples;
}

/// The fullest of them: rest pain, stent, exercise, tissue oxygen.
const std::string& example() { return examples().at(4); }

std::string repeated(std::string_view piece, std::size_t count) {
  std::string out;
  out.reserve(piece.size() * count);
  for (std::size_t i = 0; i < count; ++i) out += piece;
  return out;
}

std::size_t below(Random& random, std::size_t bound) {
  return static_cast<std::size_t>(random() % bound);
}

class Hostile : public testing::Test {
 protected:
  Hostile() : pipeline_(tables(), *parseInstant("2026-11-25T12:00:00+00:00")) {}

  static void TearDownTestSuite() {
    const testing::TestSuite& suite = *testing::UnitTest::GetInstance()->current_test_suite();
    if (suite.test_to_run_count() < suite.total_test_count()) return;
    EXPECT_GE(inputs_, kLeastInputs);
    std::printf("hostile: %zu inputs\n", inputs_);
  }

  /// Whatever comes of it has to be fit to be shown, and to be sent if it was taken.
  app::Outcome run(const intake::Text& text) {
    ++inputs_;
    app::Outcome outcome = pipeline_.run(text);
    const Result<json::Value> told = json::read(app::operationOutcome(outcome.issues));
    EXPECT_TRUE(told) << told.issues().front().text;
    if (!outcome.refused()) checkBundle(outcome);
    return outcome;
  }
  app::Outcome run(const std::string& bytes) { return run(intake::Text{"hostile", bytes, {}}); }

  void refuse(const intake::Text& text, const std::string& what) {
    const app::Outcome outcome = run(text);
    ASSERT_TRUE(outcome.refused()) << what;
    for (const Issue& issue : outcome.issues) {
      EXPECT_FALSE(issue.text.empty() || issue.mend.empty() || issue.rule.empty())
          << what << ": " << issue.rule << issue.text;
      EXPECT_TRUE(validUtf8(issue.text) && validUtf8(issue.place)) << what;
    }
  }
  void refuse(const std::string& bytes, const std::string& what) {
    refuse(intake::Text{"hostile", bytes, {}}, what);
  }

 private:
  static void checkBundle(const app::Outcome& outcome) {
    std::string bytes;
    package::BundleWriter(tables(), {})
        .append(bytes, outcome.assessment, outcome.findings, outcome.issues);
    const Result<json::Value> bundle = json::read(bytes);
    EXPECT_TRUE(bundle) << bundle.issues().front().text;
  }

  inline static std::size_t inputs_ = 0;
  app::Pipeline pipeline_;
};

TEST_F(Hostile, EmptyOrBlank) {
  for (const std::string bytes :
       {"", " ", "\n", "\r\n\t ", "\f", "\v", "\xEF\xBB\xBF", "\xC2\xA0"}) {
    refuse(bytes, "blank of " + std::to_string(bytes.size()));
  }
}

TEST_F(Hostile, CutOffAfterEveryByte) {
  const std::size_t end = example().find_last_of('}');
  for (std::size_t size = 0; size <= end; ++size) {
    refuse(example().substr(0, size), "the first " + std::to_string(size) + " bytes");
  }
}

TEST_F(Hostile, CutOffBeforeEveryHundredthByte) {
  for (std::size_t start = 1; start < example().size(); start += 100) {
    refuse(example().substr(start), "from byte " + std::to_string(start));
  }
}

TEST_F(Hostile, EveryLeafAsEveryOtherType) {
  json::Value root = tree(example());
  for (const std::string& pointer : leaves(root)) {
    const std::string_view type = at(root, pointer)->typeName();
    for (const std::string_view json : {"7", "\"x\"", "true", "null", "[]", "{}", "[7]"}) {
      const std::string bytes = withBytes(example(), pointer, std::string(json));
      if (tree(json).typeName() == type) {
        run(bytes);
      } else {
        refuse(bytes, pointer + " as " + std::string(json));
      }
    }
  }
}

TEST_F(Hostile, EveryGroupAsALeaf) {
  json::Value root = tree(example());
  for (const std::string& pointer : pointers(root)) {
    const json::Value* there = at(root, pointer);
    const bool reading = there->member("value") != nullptr || there->member("absent") != nullptr ||
                         there->member("grade") != nullptr;
    if (there->asObject() == nullptr || reading) continue;
    for (const std::string_view json : {"7", "\"x\"", "false", "null", "[]", "[{}]"}) {
      refuse(withBytes(example(), pointer, std::string(json)),
             pointer + " as " + std::string(json));
    }
  }
}

TEST_F(Hostile, EveryMemberLeftOut) {
  constexpr std::array<std::string_view, 10> kNeeded{
      "/format",    "/identifier",  "/identifier/system",   "/identifier/value",
      "/status",    "/patient",     "/patient/identifiers", "/measuredAt",
      "/performer", "/organization"};
  for (const std::string& pointer : pointers(tree(example()))) {
    const std::string bytes = edited(example(), {{pointer, ""}});
    if (std::find(kNeeded.begin(), kNeeded.end(), pointer) != kNeeded.end()) {
      refuse(bytes, "without " + pointer);
    } else {
      run(bytes);
    }
  }
}

TEST_F(Hostile, EveryMemberTwice) {
  json::Value root = tree(example());
  for (const std::string& pointer : pointers(root)) {
    if (at(root, parent(pointer))->asObject() == nullptr) continue;
    refuse(withTwice(example(), pointer), pointer + " twice");
  }
}

TEST_F(Hostile, EveryNameMisspelt) {
  const json::Value root = tree(example());
  for (const std::string& pointer : pointers(root)) {
    const std::string last = pointer.substr(pointer.rfind('/') + 1);
    if (last.find_first_not_of("0123456789") == std::string::npos) continue;
    refuse(edited(example(), {{pointer + "s", "1"}}), pointer + "s");
  }
}

TEST_F(Hostile, EveryNumberAsNoNumberCanBe) {
  json::Value root = tree(example());
  const std::vector<std::string> bad{"1e400",
                                     "-1e400",
                                     "1e-400",
                                     "1E999999999999999999",
                                     "1" + std::string(5000, '0'),
                                     "0." + std::string(5000, '0') + "1",
                                     std::string(64, '9'),
                                     "9223372036854775808",
                                     "1e308",
                                     "01",
                                     "1.",
                                     ".5",
                                     "+1",
                                     "1e",
                                     "--1",
                                     "0x10",
                                     "NaN",
                                     "Infinity",
                                     "-",
                                     "1,000"};
  for (const std::string& pointer : leaves(root)) {
    if (at(root, pointer)->asNumber() == nullptr) continue;
    for (const std::string& number : bad) {
      refuse(withBytes(example(), pointer, number), pointer + " as " + number.substr(0, 30));
    }
    for (const std::string_view number : {"-0", "-0.0", "0", "1e2", "100000", "-100000", "0.5"}) {
      run(withBytes(example(), pointer, std::string(number)));
    }
  }
}

TEST_F(Hostile, BytesThatAreNoUtf8InEveryText) {
  json::Value root = tree(example());
  // Lone continuation, overlong slash, surrogate, above U+10FFFF, half a character, Latin-1.
  for (const std::string bytes : {"\x80", "\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80",
                                  "\xE2\x82", "M\xFCller", "\xFF\xFE"}) {
    for (const std::string& pointer : leaves(root)) {
      refuse(withBytes(example(), pointer, '"' + bytes + '"'), pointer);
    }
    refuse("{\"" + bytes + "\": 1}", "as a name");
    refuse(bytes + example(), "before the text");
    refuse(example() + bytes, "after the text");
    refuse(withBytes(example(), "/revision", bytes), "in place of a number");
  }
}

TEST_F(Hostile, CharactersThatNoTextMayHold) {
  json::Value root = tree(example());
  for (const std::string text :
       {"\\u0000", "\\ud800", "\\udc00", "\\ud800x", "\\u12", "\\x41", "\n", "\x01", "\\"}) {
    for (const std::string& pointer : leaves(root)) {
      refuse(withBytes(example(), pointer, "\"a" + text + "b\""), pointer + " with " + text);
    }
  }
}

TEST_F(Hostile, NulAnywhere) {
  for (std::size_t place = 0; place <= example().size(); place += 16) {
    std::string bytes = example();
    bytes.insert(place, 1, '\0');
    refuse(bytes, "NUL at " + std::to_string(place));
  }
}

TEST_F(Hostile, NestedDeeply) {
  for (const std::size_t depth :
       {std::size_t{33}, std::size_t{50}, std::size_t{1000}, std::size_t{100'000}}) {
    const std::string lists = repeated("[", depth) + repeated("]", depth);
    const std::string objects = repeated("{\"legs\":", depth) + "1" + repeated("}", depth);
    for (const std::string& nested : {lists, objects}) {
      refuse(nested, "alone");
      refuse(nested.substr(0, nested.size() / 2), "open");
      refuse(withBytes(example(), "/note", nested), "as a text");
      refuse(withBytes(example(), "/arms", nested), "as a group");
      refuse(withBytes(example(), "/arms/right/systolic", nested), "as a reading");
    }
  }
}

TEST_F(Hostile, Enormous) {
  constexpr std::size_t kMany = 1'000'000;
  std::string members = "{\"a\":1";
  for (std::size_t i = 0; i < kMany; ++i) members += ",\"k" + std::to_string(i) + "\":1";
  refuse(members + "}", "members");
  refuse("{\"" + std::string(kMany, 'x') + "\":1}", "a name");
  refuse("{\"legs\":{\"" + std::string(kMany, 'x') + "\":1}}", "a name among readings");
  for (const std::string_view pointer : {"/note", "/status", "/measuredAt", "/conditions/posture",
                                         "/arms/right/systolic", "/patient/birthDate"}) {
    refuse(withBytes(example(), pointer, '"' + repeated("\xC3\xA9", kMany) + '"'),
           std::string(pointer));
  }
  refuse(withBytes(example(), "/patient/given", "[" + repeated("0,", kMany) + "0]"), "names");
  refuse(withBytes(example(), "/patient/identifiers", "[" + repeated("{},", kMany) + "{}]"), "ids");
  refuse(withBytes(example(), "/instruments", "[" + repeated("[],", kMany) + "[]]"), "instruments");
  refuse(withBytes(example(), "/revision", std::string(kMany, '1')), "a number");
}

TEST_F(Hostile, NoiseOfBytes) {
  Random random(kSeed);
  for (int i = 0; i < 500; ++i) {
    std::string bytes(below(random, 2000), '\0');
    for (char& c : bytes) c = static_cast<char>(random() & 0xFFU);
    refuse(bytes, "noise " + std::to_string(i));
    refuse("{" + bytes + "}", "noise in braces " + std::to_string(i));
  }
}

TEST_F(Hostile, NoiseOfJson) {
  constexpr std::array<std::string_view, 20> kPieces{
      "{",    "}",        "[",         "]",          ",",
      ":",    "\"legs\"", "\"right\"", "\"format\"", "\"\\u",
      "1",    "-",        "e5",        ".5",         "null",
      "true", " ",        "\"",        "\\",         "\"footbridge-assessment-1\""};
  Random random(kSeed + 1);
  for (int i = 0; i < 500; ++i) {
    std::string bytes = "{";
    for (std::size_t n = below(random, 60); n > 0; --n)
      bytes += kPieces[below(random, kPieces.size())];
    refuse(bytes, bytes);
  }
}

/// Changes, takes out or puts in one byte.
void mutate(std::string& bytes, Random& random) {
  const std::size_t place = below(random, bytes.size());
  const auto byte = static_cast<char>(random() & 0xFFU);
  switch (random() % 4) {
    case 0:
      bytes[place] = byte;
      break;
    case 1:
      bytes.erase(place, 1);
      break;
    case 2:
      bytes.insert(place, 1, byte);
      break;
    default:  // digits for digits, so that much stays well formed
      std::replace(bytes.begin() + static_cast<std::ptrdiff_t>(place), bytes.end(),
                   static_cast<char>('0' + random() % 10), static_cast<char>('0' + random() % 10));
  }
}

TEST_F(Hostile, ExamplesWithBytesChanged) {
  Random random(kSeed + 2);
  for (int i = 0; i < 3000; ++i) {
    std::string bytes = examples()[below(random, examples().size())];
    for (std::size_t n = 1 + below(random, 3); n > 0; --n) mutate(bytes, random);
    run(bytes);
  }
}

TEST_F(Hostile, ExamplesWithValuesOfOthers) {
  Random random(kSeed + 3);
  for (int i = 0; i < 1500; ++i) {
    json::Value into = tree(examples()[below(random, examples().size())]);
    json::Value from = tree(examples()[below(random, examples().size())]);
    const std::vector<std::string> places = pointers(into);
    const std::vector<std::string> values = pointers(from);
    for (std::size_t n = 1 + below(random, 6); n > 0; --n) {
      // The same place in another file is likely to fit, any other is not.
      const std::string& value = values[below(random, values.size())];
      json::Value* there =
          at(into, random() % 4 == 0 ? places[below(random, places.size())] : value);
      if (there != nullptr) *there = *at(from, value);
    }
    run(written(into));
  }
}

TEST_F(Hostile, ReadingsOfEveryFormAtEveryPlace) {
  const std::vector<std::string> forms{"-0",
                                       "-1",
                                       "-100000",
                                       "0",
                                       "0.5",
                                       "1",
                                       "19",
                                       "22.5",
                                       "90",
                                       "255",
                                       "300",
                                       "300.5",
                                       "999",
                                       "1e5",
                                       R"({"value": 300, "comparator": ">"})",
                                       R"({"value": 0, "comparator": "<"})",
                                       R"({"value": -1, "comparator": ">="})",
                                       R"({"value": 0.01, "unit": "kPa"})",
                                       R"({"value": 100000, "unit": "kPa"})",
                                       R"({"finding": "incompressible"})",
                                       R"({"finding": "incompressible", "limit": 1})",
                                       R"({"finding": "incompressible", "limit": 1000000})",
                                       R"({"finding": "no-signal"})",
                                       R"({"absent": "not-applicable"})",
                                       R"({"absent": "unknown", "note": "<b>&\"\\"})",
                                       R"({"grade": 1000000, "scale": "0-2"})",
                                       R"({"grade": 0, "scale": "0-4-b"})",
                                       "\"none\"",
                                       "\"absent\"",
                                       "\"below-knee\"",
                                       "\"0\""};
  for (const ItemRow& row : tables().items) {
    const std::string place = tables().place(row.item, row.sided ? Side::Right : Side::None);
    for (const std::string& form : forms) run(edited(example(), {{place, form}}));
  }
}

TEST_F(Hostile, ListsAndLinesOfIt) {
  Random random(kSeed + 4);
  for (int i = 0; i < 300; ++i) {
    std::string bytes = i % 2 == 0 ? "[" : "";
    for (std::size_t n = below(random, 4); n > 0; --n) {
      bytes += edited(examples()[below(random, examples().size())], {}) + (i % 2 == 0 ? "," : "\n");
    }
    if (!bytes.empty()) mutate(bytes, random);
    std::istringstream in(bytes);
    intake::Texts texts(in, "hostile", intake::Layout::Detect);
    while (const std::optional<intake::Text> text = texts.next()) run(*text);
  }
}

}  // namespace
}  // namespace footbridge::test
