// concepts, words, items, indices, waveforms, pulses: what there is to read and how it is coded.

#include <algorithm>
#include <array>

#include "tables/fields.hpp"

namespace footbridge::tables {
namespace {

std::array<std::string, 2> sides(Fields& row, std::string_view member) {
  const json::Value* value = row.member(member);
  if (value == nullptr) return {};
  return {std::string(value->text("right")), std::string(value->text("left"))};
}

Concept readConcept(Fields row) {
  Concept out;
  out.id = row.text("id");
  out.label = row.text("label");
  out.definition = row.text("definition");
  out.local = row.flag("local");
  out.source = row.source().text;
  for (const json::Value& element : row.list("codings")) {
    Fields coding = row.inner(element, "coding");
    out.codings.push_back({coding.text("system"), coding.text("code"),
                           coding.optionalText("display"), coding.text("status") == "verified",
                           coding.text("source"), ""});
  }
  return out;
}

WordList readWords(Fields row) {
  WordList out{row.text("id"), {}};
  for (const json::Value& element : row.list("words")) {
    Fields word = row.inner(element, "word");
    out.words.push_back({word.text("word"), word.text("concept"), {}});
  }
  return out;
}

Kind readKind(Fields& row) {
  static constexpr std::array<std::string_view, 4> kKinds{"pressure", "number", "word", "pulse"};
  const std::string name = row.text("kind");
  const auto found = std::find(kKinds.begin(), kKinds.end(), name);
  if (found == kKinds.end()) row.fault("kind", "is not one of pressure, number, word, pulse");
  return static_cast<Kind>(found == kKinds.end() ? 2 : found - kKinds.begin());
}

/// [low, high], either of which may be null.
void readLimits(Fields& row, std::string_view member, std::optional<Decimal>& below,
                std::optional<Decimal>& above) {
  const json::Array& pair = row.list(member);
  if (pair.empty()) return;
  if (pair.size() != 2) return row.fault(member, "is not a pair of bounds");
  const auto bound = [&](const json::Value& value) {
    const json::Number* number = value.asNumber();
    return number == nullptr ? std::nullopt : Decimal::parse(number->text);
  };
  below = bound(pair[0]);
  above = bound(pair[1]);
}

ItemRow readItem(Fields row, Item item) {
  if (row.text("id") != id(item)) row.fault("id", "is out of order: the list in the code differs");
  ItemRow out;
  out.item = item;
  out.label = row.text("label");
  out.kind = readKind(row);
  out.sided = row.flag("side");
  out.path = row.text("path");
  out.concept_id = row.optionalText("concept");
  out.unit = row.optionalText("unit");
  out.unitLabel = row.optionalText("unitLabel");
  out.words = row.optionalText("words");
  out.category = row.optionalText("category");
  out.site = sides(row, "site");
  out.method = row.optionalText("method");
  out.instrument = row.optionalText("instrument");
  readLimits(row, "reject", out.limits.rejectBelow, out.limits.rejectAbove);
  readLimits(row, "query", out.limits.queryBelow, out.limits.queryAbove);
  out.limits.source = row.source();
  return out;
}

IndexRow readIndex(Fields row, IndexKind kind) {
  if (row.text("id") != id(kind)) row.fault("id", "is out of order: the list in the code differs");
  return {kind,
          row.text("label"),
          row.text("concept"),
          sides(row, "conceptBySide"),
          row.text("unit"),
          sides(row, "site"),
          row.source()};
}

WaveformRow readWaveform(Fields row) {
  return {row.text("id"), row.optionalText("outcome"), row.optionalText("remark"), row.source()};
}

PulseScale readScale(Fields row) {
  PulseScale out;
  out.id = row.text("id");
  out.name = row.text("name");
  out.lowest = row.whole("lowest");
  out.highest = row.whole("highest");
  out.source = row.source();
  for (std::int32_t grade = out.lowest; grade <= out.highest; ++grade) {
    const json::Value* meaning = row.member("meaning");
    const std::string_view word = meaning == nullptr ? "" : meaning->text(std::to_string(grade));
    if (!word.empty()) out.meaning.emplace(grade, word);
  }
  return out;
}

/// Reads every row of a file by `make`, naming each by its position for the messages.
template <class Row, class Make>
std::vector<Row> readRows(const Files& files, std::string_view name, Issues& issues, Make make) {
  const json::Value file = parseFile(files, name, issues);
  std::vector<Row> out;
  for (const json::Value& element : Fields(file, std::string(name), issues).list("rows")) {
    const std::string label = std::string(name) + " row " + std::to_string(out.size() + 1);
    out.push_back(make(Fields(element, label, issues), out.size()));
  }
  return out;
}

template <class Row>
void sortById(std::vector<Row>& rows) {
  std::sort(rows.begin(), rows.end(), [](const Row& a, const Row& b) { return a.id < b.id; });
}

void demandCount(std::size_t found, std::size_t wanted, std::string_view name, Issues& issues) {
  if (found == wanted) return;
  issues.push_back({Severity::Fatal, IssueType::Structure, "tables", std::string(name),
                    std::string(name) + " has " + std::to_string(found) + " rows, the code knows " +
                        std::to_string(wanted) + ".",
                    "Give every item its row, in the order of bridge/model/items.hpp."});
}

}  // namespace

void loadCatalogue(const Files& files, Tables& tables, Issues& issues) {
  const json::Value head = parseFile(files, "concepts.json", issues);
  tables.canonicalBase = head.text("canonicalBase");
  const auto simple = [](auto read) {
    return [read](Fields row, std::size_t) { return read(std::move(row)); };
  };
  tables.concepts = readRows<Concept>(files, "concepts.json", issues, simple(readConcept));
  tables.wordLists = readRows<WordList>(files, "words.json", issues, simple(readWords));
  tables.items = readRows<ItemRow>(files, "items.json", issues, [](Fields row, std::size_t at) {
    return readItem(std::move(row), static_cast<Item>(std::min(at, kItemCount - 1)));
  });
  tables.indices =
      readRows<IndexRow>(files, "indices.json", issues, [](Fields row, std::size_t at) {
        return readIndex(std::move(row),
                         static_cast<IndexKind>(std::min(at, kIndexIds.size() - 1)));
      });
  tables.waveforms = readRows<WaveformRow>(files, "waveforms.json", issues, simple(readWaveform));
  tables.pulseScales = readRows<PulseScale>(files, "pulses.json", issues, simple(readScale));
  sortById(tables.concepts);
  sortById(tables.wordLists);
  demandCount(tables.items.size(), kItemCount, "items.json", issues);
  demandCount(tables.indices.size(), kIndexIds.size(), "indices.json", issues);
}

}  // namespace footbridge::tables
