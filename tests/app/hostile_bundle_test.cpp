// Bundles of Observations that no app means to send, through the whole pipeline under the
// sanitizers: each assessment is taken or refused with something a person can act on, in the terms
// of the bundle, and none takes long.

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <functional>
#include <random>

#include "app/pipeline.hpp"
#include "app/report.hpp"
#include "core/file.hpp"
#include "core/text.hpp"
#include "fhir/reader.hpp"
#include "support/edit_json.hpp"

namespace footbridge::test {
namespace {

using Random = std::mt19937_64;

constexpr std::uint64_t kSeed = 20261126;
constexpr std::chrono::seconds kPatience{60};  ///< under the sanitizers, on a busy machine

const Tables& tables() {
  static const Tables kTables = *embeddedTables();
  return kTables;
}

std::string fileOf(const std::string& name) {
  return *readFile(FOOTBRIDGE_EXAMPLES "/observations/" + name);
}

const fhir::Names& names() {
  static const csv::SourceMap kMap = *csv::loadSourceMap(fileOf("app.toml"), tables());
  static const fhir::Names kNames(tables(), &kMap);
  return kNames;
}

const std::string& example() {
  static const std::string kExample = fileOf("one.json");
  return kExample;
}

class HostileBundle : public testing::Test {
 protected:
  HostileBundle() : pipeline_(tables(), *parseInstant("2026-11-25T12:00:00+00:00")) {}

  /// How many were taken.
  std::size_t run(const std::string& bytes) {
    std::size_t taken = 0;
    const std::vector<intake::Text> texts = fhir::textsOf({"hostile", bytes, {}}, names());
    EXPECT_FALSE(texts.empty());
    for (const intake::Text& text : texts) {
      app::Outcome outcome = pipeline_.run(text);
      intake::relocate(outcome.issues, *text.original, tables());
      EXPECT_TRUE(json::read(app::operationOutcome(outcome.issues)));
      EXPECT_TRUE(!outcome.refused() || !outcome.issues.empty());
      for (const Issue& issue : outcome.issues) {
        EXPECT_TRUE(validUtf8(issue.text) && validUtf8(issue.place));
        EXPECT_FALSE(issue.text.empty() || issue.place.empty()) << issue.rule;
        EXPECT_FALSE(issue.place.starts_with('/')) << issue.place;
      }
      taken += outcome.refused() ? 0 : 1;
    }
    return taken;
  }

  void runQuickly(const std::string& bytes) {
    const auto begin = std::chrono::steady_clock::now();
    run(bytes);
    EXPECT_LT(std::chrono::steady_clock::now() - begin, kPatience);
  }

 private:
  app::Pipeline pipeline_;
};

TEST_F(HostileBundle, TheExampleIsTaken) { EXPECT_EQ(run(example()), 1U); }

TEST_F(HostileBundle, EveryLeafAsEveryOtherType) {
  for (const std::string& pointer : leaves(tree(example()))) {
    for (const std::string_view json : {"7", "\"x\"", "null", "{}"}) {
      run(withBytes(example(), pointer, std::string(json)));
    }
  }
}

TEST_F(HostileBundle, EveryGroupAsALeaf) {
  json::Value root = tree(example());
  for (const std::string& pointer : pointers(root)) {
    const json::Value* there = at(root, pointer);
    if (there->asObject() == nullptr && there->asArray() == nullptr) continue;
    for (const std::string_view json : {"7", "\"x\"", "null", "[{}]", "{\"a\":[]}"}) {
      run(withBytes(example(), pointer, std::string(json)));
    }
  }
}

TEST_F(HostileBundle, EveryMemberLeftOut) {
  for (const std::string& pointer : pointers(tree(example()))) {
    const std::string_view name = std::string_view(pointer).substr(parent(pointer).size() + 1);
    if (name.find_first_not_of("0123456789") == std::string_view::npos) continue;
    run(edited(example(), {{pointer, ""}}));
  }
}

/// A reading whose value, unit or state is not there is never taken as if it were.
TEST_F(HostileBundle, AReadingThatSaysNothingRefusesItsAssessment) {
  json::Value root = tree(example());
  for (const std::string& pointer : pointers(root)) {
    if (!pointer.ends_with("/valueQuantity/value") && !pointer.ends_with("/valueQuantity") &&
        !pointer.ends_with("/valueInteger") && !pointer.ends_with("/valueCodeableConcept") &&
        !pointer.ends_with("/dataAbsentReason")) {
      continue;
    }
    const bool read = std::stoi(pointer.substr(std::string_view("/entry/").size())) <= 12;
    if (!read) continue;
    EXPECT_EQ(run(edited(example(), {{pointer, ""}})), 0U) << pointer;
  }
}

TEST_F(HostileBundle, BytesChanged) {
  Random random(kSeed);
  for (int i = 0; i < 1'000; ++i) {
    std::string bytes = i % 2 == 0 ? example() : fileOf("two.json");
    for (std::size_t n = 1 + random() % 3; n > 0; --n) {
      const std::size_t place = random() % bytes.size();
      if (random() % 2 == 0) {
        bytes[place] = static_cast<char>(random() % 256);
      } else {  // digits for digits, so that much stays well formed
        std::replace(bytes.begin() + static_cast<std::ptrdiff_t>(place), bytes.end(),
                     static_cast<char>('0' + random() % 10),
                     static_cast<char>('0' + random() % 10));
      }
    }
    run(bytes);
  }
}

TEST_F(HostileBundle, ValuesOfOtherPlaces) {
  Random random(kSeed + 1);
  const std::vector<std::string> places = pointers(tree(example()));
  for (int i = 0; i < 600; ++i) {
    json::Value into = tree(example());
    json::Value from = tree(example());
    for (std::size_t n = 1 + random() % 4; n > 0; --n) {
      json::Value* there = at(into, places[random() % places.size()]);
      if (there != nullptr) *there = *at(from, places[random() % places.size()]);
    }
    run(written(into));
  }
}

std::string observation(std::size_t number, const std::string& more) {
  const std::string id = std::to_string(number);
  return R"({"fullUrl":"urn:uuid:)" + id + R"(","resource":{"resourceType":"Observation",)" +
         R"("status":"final","code":{"text":"c)" + id + "\"}" + more + "}}";
}

std::string many(std::size_t count, const std::function<std::string(std::size_t)>& one) {
  std::string out = R"({"resourceType":"Bundle","type":"collection","entry":[)";
  for (std::size_t i = 0; i < count; ++i) out += (i == 0 ? "" : ",") + one(i);
  return out + "]}";
}

std::string reference(std::size_t to) {
  return R"({"reference":"urn:uuid:)" + std::to_string(to) + "\"}";
}

constexpr std::size_t kMany = 5'000;

TEST_F(HostileBundle, APatientEach) {
  runQuickly(many(1'000, [](std::size_t i) {
    return observation(i, R"(,"subject":{"reference":"Patient/)" + std::to_string(i) + "\"}");
  }));
}

/// What is kept of each must not hold all the others' patients.
TEST_F(HostileBundle, APatientEachInTheBundle) {
  const std::string bytes = many(2'000, [](std::size_t i) {
    if (i % 2 == 0) return observation(i, R"(,"subject":)" + reference(i + 1));
    return R"({"fullUrl":"urn:uuid:)" + std::to_string(i) +
           R"(","resource":{"resourceType":"Patient","identifier":[{"value":")" +
           std::to_string(i) + "\"}]}}";
  });
  std::size_t kept = 0;
  for (const intake::Text& text : fhir::textsOf({"hostile", bytes, {}}, names())) {
    kept += text.original->rows.size();
  }
  EXPECT_LT(kept, 2 * bytes.size());
}

TEST_F(HostileBundle, AnEncounterEach) {
  runQuickly(many(1'000, [](std::size_t i) {
    return observation(i, R"(,"encounter":{"reference":"E/)" + std::to_string(i) + "\"}");
  }));
}

TEST_F(HostileBundle, PanelsInPanels) {
  runQuickly(many(kMany, [](std::size_t i) {
    return observation(i, R"(,"hasMember":[)" + reference(i + 1) + "]");
  }));
}

TEST_F(HostileBundle, PanelsInACircle) {
  runQuickly(many(kMany, [](std::size_t i) {
    return observation(i,
                       R"(,"hasMember":[)" + reference((i + 1) % kMany) + "," + reference(i) + "]");
  }));
}

TEST_F(HostileBundle, AReportThatContainsAll) {
  std::string contained;
  std::string results;
  for (std::size_t i = 0; i < kMany; ++i) {
    const std::string id = std::to_string(i);
    contained += (i == 0 ? "" : ",") + (R"({"resourceType":"Observation","id":")" + id + "\"}");
    results += (i == 0 ? "" : ",") + (R"({"reference":"#)" + id + "\"}");
  }
  runQuickly(R"({"resourceType":"DiagnosticReport","status":"final","contained":[)" + contained +
             R"(],"result":[)" + results + "]}");
}

TEST_F(HostileBundle, ManyReportsOfOneResult) {
  runQuickly(many(500, [](std::size_t i) {
    if (i == 0) return observation(0, "");
    return R"({"resource":{"resourceType":"DiagnosticReport","status":"final","result":[)" +
           reference(0) + "]}}";
  }));
}

}  // namespace
}  // namespace footbridge::test
