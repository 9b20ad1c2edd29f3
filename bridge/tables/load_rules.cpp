// rules.json: everything Footbridge can remark on.

#include <algorithm>

#include "tables/fields.hpp"

namespace footbridge::tables {
namespace {

/// The enumerator whose code() is `name`, among the first `count`.
template <class Enum>
std::optional<Enum> named(std::string_view name, std::size_t count) {
  for (std::size_t i = 0; i < count; ++i) {
    if (code(static_cast<Enum>(i)) == name) return static_cast<Enum>(i);
  }
  return std::nullopt;
}

void readNumbers(Fields& row, Rule& rule) {
  const json::Value* value = row.member("numbers");
  const json::Object* members = value == nullptr ? nullptr : value->asObject();
  if (members == nullptr) return;
  Fields numbers = row.inner(*value, "numbers");
  for (const auto& [name, content] : *members) {
    const std::optional<std::int32_t> number = numbers.bound(name);
    if (number) rule.numbers.emplace_back(name, *number);
  }
  std::sort(rule.numbers.begin(), rule.numbers.end());
}

Rule readRule(Fields row) {
  Rule out;
  out.id = row.text("id");
  out.stage = row.text("stage");
  out.sentence = Sentence(row.text("text"));
  out.mend = Sentence(row.text("mend"));
  out.mendInTable = row.optionalText("mendInTable");
  out.source = row.source();
  const auto severity = named<Severity>(row.text("severity"), 4);
  const auto type = named<IssueType>(row.text("type"), 15);
  if (!severity) row.fault("severity", "is no FHIR issue severity");
  if (!type) row.fault("type", "is no FHIR issue type that is used here");
  out.severity = severity.value_or(Severity::Error);
  out.type = type.value_or(IssueType::Value);
  readNumbers(row, out);
  return out;
}

}  // namespace

void loadRules(const Files& files, Tables& tables, Issues& issues) {
  const json::Value file = parseFile(files, "rules.json", issues);
  for (const json::Value& row : Fields(file, "rules.json", issues).list("rows")) {
    tables.rules.push_back(readRule({row, "rules.json " + std::string(row.text("id")), issues}));
  }
  std::sort(tables.rules.begin(), tables.rules.end(),
            [](const Rule& a, const Rule& b) { return a.id < b.id; });
}

}  // namespace footbridge::tables
