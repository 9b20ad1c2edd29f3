// How fast one core goes from the bytes of an assessment to the bytes of its bundle, stage by
// stage, beside two ceilings in the same run: RapidJSON's Writer emitting the same bundle from a
// tree that stands ready, and memcpy of the same bytes. Every figure is per assessment and per byte
// of bundle. --emit-shared writes the bundles of the work that the peers do as well.

#include <benchmark/benchmark.h>
#include <rapidjson/stringbuffer.h>
#include <rapidjson/writer.h>

#include <algorithm>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <numeric>

#include "app/pipeline.hpp"
#include "assess/assess.hpp"
#include "assess/derive_parts.hpp"
#include "assess/grade_schemes.hpp"
#include "assess/validate.hpp"
#include "json/value.hpp"

namespace footbridge::bench {
namespace {

/// The visits of the example clinic that the peers can make as well, in the order of their names.
std::vector<intake::Text> exampleVisits() {
  std::vector<std::filesystem::path> paths;
  for (const auto& entry : std::filesystem::directory_iterator(FOOTBRIDGE_EXAMPLES_DIR)) {
    if (!entry.path().filename().string().starts_with("27")) paths.push_back(entry.path());
  }
  std::sort(paths.begin(), paths.end());
  std::vector<intake::Text> texts;
  for (const std::filesystem::path& path : paths) {
    std::ifstream file(path, std::ios::binary);
    texts.push_back(
        {path.filename().string(), std::string(std::istreambuf_iterator<char>(file), {}), {}});
  }
  return texts;
}

/// Everything that the benchmarks take as ready.
struct Bench {
  Tables tables = *embeddedTables();
  Instant now = *parseInstant("2026-11-25T12:00:00Z");
  app::Pipeline pipeline{tables, now};
  package::BundleWriter writer{tables, package::BundleOptions{.version = "bench"}};
  std::vector<intake::Text> texts = exampleVisits();
  std::vector<app::Outcome> outcomes;
  std::vector<std::string> bundles;
  std::vector<json::Value> trees;

  Bench() {
    for (const intake::Text& text : texts) {
      outcomes.push_back(pipeline.run(text));
      if (outcomes.back().refused()) std::abort();  // the examples of this folder are acceptable
      bundles.push_back(bundleOf(outcomes.back()));
      trees.push_back(*json::read(bundles.back(), {.members = 4096}));
    }
  }

  std::string bundleOf(const app::Outcome& outcome) {
    std::string out;
    writer.append(out, outcome.assessment, outcome.findings, outcome.issues);
    return out;
  }
  std::size_t bytes() const {
    return std::accumulate(
        bundles.begin(), bundles.end(), std::size_t{0},
        [](std::size_t sum, const std::string& one) { return sum + one.size(); });
  }
};

Bench& ready() {
  static Bench bench;
  return bench;
}

void report(benchmark::State& state, std::int64_t times = 1) {
  const std::int64_t rounds = state.iterations() * times;
  state.SetItemsProcessed(rounds * static_cast<std::int64_t>(ready().texts.size()));
  state.SetBytesProcessed(rounds * static_cast<std::int64_t>(ready().bytes()));
}

/// Takes every visit so many times in a row, and counts each of them.
void takeVisits(benchmark::State& state, int times) {
  Bench& bench = ready();
  std::string out;
  for (auto _ : state) {
    for (const intake::Text& text : bench.texts) {
      for (int i = 0; i < times; ++i) {
        const app::Outcome outcome = bench.pipeline.run(text);
        out.clear();
        bench.writer.append(out, outcome.assessment, outcome.findings, outcome.issues);
        benchmark::DoNotOptimize(out.data());
      }
    }
  }
  report(state, times);
}

void wholePath(benchmark::State& state) { takeVisits(state, 1); }

/// The same visit again and again, beside the ceiling that has the same tree again and again.
void wholePathCached(benchmark::State& state) { takeVisits(state, 16); }

/// The indices of one side that the peers make.
void addSharedIndices(const Assessment& assessment, Side side, const assess::Chosen& arm,
                      const Tables& tables, std::vector<Index>& out) {
  const assess::Chosen ankle = assess::anklePressure(assessment, side, tables);
  const assess::Chosen toe = assess::onePressure(assessment, Item::ToePressure, side, tables);
  out.push_back(assess::ratioOf(IndexKind::Abi, side, ankle, arm, tables));
  for (Index& index : assess::arteryIndices(assessment, side, arm, tables)) {
    out.push_back(std::move(index));
  }
  out.push_back(assess::ratioOf(IndexKind::Tbi, side, toe, arm, tables));
}

/// The work of the peers and hardly more: readings, the indices that they make and the classes of
/// those. What they leave out is left out before it costs anything, but for the reading, the
/// validation and the resources around them (panels, instruments, report, provenance).
void writeShared(Bench& bench, const intake::AssessmentReader& reader, const intake::Text& text,
                 std::string& out) {
  const intake::Intake intake = reader.read(text.bytes);
  const Issues issues = validate(intake.assessment, bench.now, bench.tables);
  Findings findings;
  const assess::Chosen arm = assess::armPressure(intake.assessment, bench.tables);
  for (const Side side : kSides) {
    addSharedIndices(intake.assessment, side, arm, bench.tables, findings.indices);
    assess::addBandGrades({intake.assessment, findings.indices, bench.tables, side},
                          findings.grades);
  }
  bench.writer.append(out, intake.assessment, findings, issues);
}

void sharedWork(benchmark::State& state) {
  Bench& bench = ready();
  const intake::AssessmentReader reader(bench.tables);
  std::string out;
  std::size_t bytes = 0;
  for (auto _ : state) {
    for (const intake::Text& text : bench.texts) {
      out.clear();
      writeShared(bench, reader, text, out);
      benchmark::DoNotOptimize(out.data());
      bytes += out.size();
    }
  }
  report(state);
  state.SetBytesProcessed(static_cast<std::int64_t>(bytes));
}

void readingOnly(benchmark::State& state) {
  const intake::AssessmentReader reader(ready().tables);
  for (auto _ : state) {
    for (const intake::Text& text : ready().texts)
      benchmark::DoNotOptimize(reader.read(text.bytes));
  }
  report(state);
}

void validationOnly(benchmark::State& state) {
  for (auto _ : state) {
    for (const app::Outcome& outcome : ready().outcomes) {
      benchmark::DoNotOptimize(validate(outcome.assessment, ready().now, ready().tables));
    }
  }
  report(state);
}

void findingsOnly(benchmark::State& state) {
  for (auto _ : state) {
    for (const app::Outcome& outcome : ready().outcomes) {
      benchmark::DoNotOptimize(findOut(outcome.assessment, ready().tables));
    }
  }
  report(state);
}

void writingOnly(benchmark::State& state) {
  std::string out;
  for (auto _ : state) {
    for (const app::Outcome& outcome : ready().outcomes) {
      out.clear();
      ready().writer.append(out, outcome.assessment, outcome.findings, outcome.issues);
      benchmark::DoNotOptimize(out.data());
    }
  }
  report(state);
}

using RapidWriter = rapidjson::Writer<rapidjson::StringBuffer>;

void emit(const json::Value& value, RapidWriter& out);

void emitText(const std::string& text, RapidWriter& out) {
  out.String(text.data(), static_cast<rapidjson::SizeType>(text.size()));
}

void emitObject(const json::Object& object, RapidWriter& out) {
  out.StartObject();
  for (const auto& [name, member] : object) {
    out.Key(name.data(), static_cast<rapidjson::SizeType>(name.size()));
    emit(member, out);
  }
  out.EndObject();
}

void emit(const json::Value& value, RapidWriter& out) {
  if (const auto* object = value.asObject()) return emitObject(*object, out);
  if (const auto* text = value.asString()) return emitText(*text, out);
  if (const auto* list = value.asArray()) {
    out.StartArray();
    for (const json::Value& element : *list) emit(element, out);
    out.EndArray();
  } else if (const auto* number = value.asNumber()) {
    out.RawValue(number->text.data(), number->text.size(), rapidjson::kNumberType);
  } else if (const bool* flag = value.asBool()) {
    out.Bool(*flag);
  } else {
    out.Null();
  }
}

/// Writes every tree so many times in a row, and counts each of them.
void writeTrees(benchmark::State& state, int times) {
  rapidjson::StringBuffer buffer;
  for (auto _ : state) {
    for (const json::Value& tree : ready().trees) {
      for (int i = 0; i < times; ++i) {
        buffer.Clear();
        RapidWriter writer(buffer);
        emit(tree, writer);
        benchmark::DoNotOptimize(buffer.GetString());
      }
    }
  }
  report(state, times);
}

/// The obvious way: nothing to read, validate, derive or grade, only to write.
void ceilingRapidJson(benchmark::State& state) { writeTrees(state, 1); }

/// The same at its best: the tree is in the cache all the time, where no visit of a clinic would
/// be.
void ceilingRapidJsonCached(benchmark::State& state) { writeTrees(state, 16); }

void ceilingMemcpy(benchmark::State& state) {
  std::string out;
  for (auto _ : state) {
    for (const std::string& bundle : ready().bundles) {
      out.resize(bundle.size());
      std::memcpy(out.data(), bundle.data(), bundle.size());
      benchmark::DoNotOptimize(out.data());
    }
  }
  report(state);
}

/// The bundles of the shared work, one a line, to be compared with those of the peers.
void emitShared() {
  const intake::AssessmentReader reader(ready().tables);
  for (const intake::Text& text : ready().texts) {
    std::string out;
    writeShared(ready(), reader, text, out);
    std::cout << out << '\n';
  }
}

/// The ceiling counts only if it writes the very same bytes.
bool ceilingIsTheSame() {
  for (std::size_t i = 0; i < ready().bundles.size(); ++i) {
    rapidjson::StringBuffer buffer;
    RapidWriter writer(buffer);
    emit(ready().trees[i], writer);
    if (std::string_view(buffer.GetString(), buffer.GetSize()) != ready().bundles[i]) return false;
  }
  return true;
}

BENCHMARK(wholePath);
BENCHMARK(wholePathCached);
BENCHMARK(sharedWork);
BENCHMARK(readingOnly);
BENCHMARK(validationOnly);
BENCHMARK(findingsOnly);
BENCHMARK(writingOnly);
BENCHMARK(ceilingRapidJson);
BENCHMARK(ceilingRapidJsonCached);
BENCHMARK(ceilingMemcpy);

}  // namespace
}  // namespace footbridge::bench

int main(int argc, char** argv) {
  if (argc == 2 && std::string_view(argv[1]) == "--emit-shared") {
    footbridge::bench::emitShared();
    return 0;
  }
  if (!footbridge::bench::ceilingIsTheSame()) {
    std::cerr << "the ceiling does not write the same bundles\n";
    return 1;
  }
  benchmark::Initialize(&argc, argv);
  benchmark::RunSpecifiedBenchmarks();
  return 0;
}
