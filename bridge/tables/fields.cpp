#include "tables/fields.hpp"

#include <algorithm>
#include <charconv>

#include "core/text.hpp"

namespace footbridge::tables {
namespace {

std::optional<std::int32_t> wholeNumber(const json::Value* value) {
  const json::Number* number = value == nullptr ? nullptr : value->asNumber();
  if (number == nullptr) return std::nullopt;
  std::int32_t out = 0;
  const char* const end = number->text.data() + number->text.size();
  const auto result = std::from_chars(number->text.data(), end, out);
  return result.ec == std::errc{} && result.ptr == end ? std::optional{out} : std::nullopt;
}

}  // namespace

void Fields::fault(std::string_view member, std::string_view what) {
  issues_.push_back({Severity::Fatal, IssueType::Structure, "tables",
                     name_ + " " + std::string(member),
                     name_ + ": " + std::string(member) + " " + std::string(what) + ".",
                     "Mend the table file, or use the tables built into the program."});
}

std::string Fields::text(std::string_view member) {
  std::string out = optionalText(member);
  if (out.empty()) fault(member, "is missing or no text");
  return out;
}

std::string Fields::optionalText(std::string_view member) { return std::string(row_.text(member)); }

std::int32_t Fields::whole(std::string_view member) {
  const std::optional<std::int32_t> out = optionalWhole(member);
  if (!out) fault(member, "is missing or no whole number");
  return out.value_or(0);
}

std::optional<std::int32_t> Fields::optionalWhole(std::string_view member) {
  return wholeNumber(row_.member(member));
}

bool Fields::flag(std::string_view member) {
  const json::Value* value = row_.member(member);
  const bool* out = value == nullptr ? nullptr : value->asBool();
  return out != nullptr && *out;
}

std::optional<std::int32_t> Fields::bound(std::string_view member) {
  const json::Value* value = row_.member(member);
  if (value == nullptr || value->isNull()) return std::nullopt;
  if (const auto number = wholeNumber(value)) return number;
  const std::string* written = value->asString();
  const auto decimal = written == nullptr ? std::nullopt : Decimal::parse(*written);
  if (!decimal || decimal->scale != 2) {
    fault(member, "is neither a whole number nor a text with two decimals");
    return std::nullopt;
  }
  return static_cast<std::int32_t>(decimal->digits);
}

Source Fields::source(Demand demand) {
  Source out{optionalText("source"), optionalText("certainty")};
  if (demand == Demand::Required && out.text.empty()) fault("source", "is missing");
  if (demand == Demand::Required && out.certainty.empty()) fault("certainty", "is missing");
  return out;
}

const json::Array& Fields::list(std::string_view member) {
  static const json::Array kNone;
  const json::Value* value = row_.member(member);
  if (value == nullptr) return kNone;
  const json::Array* out = value->asArray();
  if (out == nullptr) fault(member, "is not a list");
  return out == nullptr ? kNone : *out;
}

void Fields::refuseOthers(std::initializer_list<std::string_view> known) {
  const json::Object* members = row_.asObject();
  if (members == nullptr) return;
  std::string names;
  for (const std::string_view each : known) (names += names.empty() ? "" : ", ") += each;
  for (const auto& [name, ignored] : *members) {
    const bool read = std::find(known.begin(), known.end(), name) != known.end();
    if (!read) fault(printable(name), "is not known here; known are " + names);
  }
}

json::Value parseFile(const Files& files, std::string_view name, Issues& issues) {
  const auto found = files.find(name);
  if (found == files.end()) {
    issues.push_back({Severity::Fatal, IssueType::NotFound, "tables", std::string(name),
                      "The table file " + std::string(name) + " is missing.",
                      "Give a directory that holds all table files."});
    return {};
  }
  Result<json::Value> value = json::read(found->second);
  if (value) return *std::move(value);
  for (Issue issue : value.issues()) {
    issue.text = std::string(name) + ": " + issue.text;
    issues.push_back(std::move(issue));
  }
  return {};
}

}  // namespace footbridge::tables
