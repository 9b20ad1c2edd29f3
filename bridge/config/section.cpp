#include "config/section.hpp"

#include <algorithm>
#include <charconv>

#include "core/signing.hpp"
#include "core/text.hpp"

namespace footbridge::config {
namespace {

/// In what was read from TOML a span begins with the line.
std::string lineOf(const json::Value* value) {
  return value == nullptr || value->span.begin == 0
             ? ""
             : " (line " + std::to_string(value->span.begin) + ")";
}

std::optional<std::int64_t> wholeIn(const json::Value& value, std::int64_t least,
                                    std::int64_t most) {
  const json::Number* number = value.asNumber();
  if (number == nullptr) return std::nullopt;
  std::int64_t out = 0;
  const char* const end = number->text.data() + number->text.size();
  const auto read = std::from_chars(number->text.data(), end, out);
  const bool fits = read.ec == std::errc() && read.ptr == end && out >= least && out <= most;
  return fits ? std::optional(out) : std::nullopt;
}

std::string range(std::int64_t least, std::int64_t most) {
  return "from " + std::to_string(least) + " to " + std::to_string(most);
}

}  // namespace

bool Section::has(std::string_view key) const { return table_.member(key) != nullptr; }

void Section::fault(std::string_view key, const std::string& text, const std::string& mend) {
  const json::Value* value = key.empty() ? &table_ : table_.member(key);
  std::string place = place_;
  if (!key.empty()) (place += '/') += key;
  issues_.push_back(
      {Severity::Error, IssueType::Value, "config", place, text + lineOf(value) + ".", mend});
}

Section Section::over(const json::Value& preset, json::Value& merged) const {
  merged = table_;
  json::Object& members = std::get<json::Object>(merged.content());
  const json::Object none;
  for (const json::Member& each : preset.asObject() == nullptr ? none : *preset.asObject()) {
    if (!has(each.first)) members.push_back(each);
  }
  Section out(merged, place_, issues_);
  out.asked_ = asked_;
  return out;
}

void Section::wrongType(std::string_view key, std::string_view wanted) {
  fault(key, std::string(key) + " has to be " + std::string(wanted),
        "Write it in that form, or leave it out.");
}

std::optional<std::string> Section::text(std::string_view key) {
  asked_.emplace_back(key);
  const json::Value* value = table_.member(key);
  if (value == nullptr) return std::nullopt;
  if (value->asString() != nullptr && !value->asString()->empty()) return *value->asString();
  wrongType(key, "a text in quotes that is not empty");
  return std::nullopt;
}

std::optional<bool> Section::flag(std::string_view key) {
  asked_.emplace_back(key);
  const json::Value* value = table_.member(key);
  if (value == nullptr) return std::nullopt;
  if (value->asBool() != nullptr) return *value->asBool();
  wrongType(key, "true or false");
  return std::nullopt;
}

std::optional<std::int64_t> Section::whole(std::string_view key, std::int64_t least,
                                           std::int64_t most) {
  asked_.emplace_back(key);
  const json::Value* value = table_.member(key);
  if (value == nullptr) return std::nullopt;
  const std::optional<std::int64_t> out = wholeIn(*value, least, most);
  if (!out) wrongType(key, "a whole number " + range(least, most));
  return out;
}

std::vector<std::int64_t> Section::wholes(std::string_view key, std::int64_t least,
                                          std::int64_t most) {
  asked_.emplace_back(key);
  const json::Value* value = table_.member(key);
  if (value == nullptr) return {};
  std::vector<std::int64_t> out;
  const json::Array* list = value->asArray();
  for (std::size_t i = 0; list != nullptr && i < list->size(); ++i) {
    if (const auto number = wholeIn((*list)[i], least, most)) out.push_back(*number);
  }
  if (list != nullptr && !list->empty() && out.size() == list->size()) return out;
  wrongType(key, "a list of whole numbers " + range(least, most));
  return {};
}

std::vector<std::string> Section::texts(std::string_view key) {
  asked_.emplace_back(key);
  const json::Value* value = table_.member(key);
  if (value == nullptr) return {};
  std::vector<std::string> out;
  const json::Array* list = value->asArray();
  for (std::size_t i = 0; list != nullptr && i < list->size(); ++i) {
    if (const std::string* text = (*list)[i].asString()) out.push_back(*text);
  }
  if (list != nullptr && !list->empty() && out.size() == list->size()) return out;
  wrongType(key, "a list of texts in quotes");
  return {};
}

std::optional<std::filesystem::path> Section::path(std::string_view key,
                                                   const std::filesystem::path& folder) {
  const std::optional<std::string> given = text(key);
  if (!given) return std::nullopt;
  return folder / *given;
}

std::filesystem::path Section::file(std::string_view key, const std::filesystem::path& folder) {
  const std::optional<std::filesystem::path> out = path(key, folder);
  std::error_code ignored;
  if (out && !std::filesystem::is_regular_file(*out, ignored)) {
    fault(key,
          std::filesystem::is_directory(*out, ignored) ? out->string() + " is a folder, not a file"
                                                       : "There is no file " + out->string(),
          "Secrets and certificates are given as paths to files that this user may read.");
  }
  return out.value_or(std::filesystem::path{});
}

std::filesystem::path Section::secret(std::string_view key, const std::filesystem::path& folder) {
  std::filesystem::path out = file(key, folder);
  for (const Issue& issue : out.empty() ? Issues{} : privacyOf(out)) {
    fault(key, issue.text.substr(0, issue.text.size() - 1), issue.mend);
  }
  return out;
}

std::optional<std::size_t> Section::choice(std::string_view key,
                                           const std::vector<std::string>& words) {
  const std::optional<std::string> value = text(key);
  if (!value) return std::nullopt;
  const auto found = std::find(words.begin(), words.end(), *value);
  if (found != words.end()) return static_cast<std::size_t>(found - words.begin());
  std::string all;
  for (const std::string& word : words) all += (all.empty() ? "" : ", ") + word;
  const std::string_view close = nearest(*value, words);
  fault(
      key, std::string(key) + " cannot be \"" + printable(*value) + "\"",
      (close.empty() ? "" : "Did you mean " + std::string(close) + "? ") + "One of: " + all + ".");
  return std::nullopt;
}

Section Section::table(std::string_view key) {
  static const json::Value kEmpty(json::Object{});
  asked_.emplace_back(key);
  const json::Value* value = table_.member(key);
  const bool good = value != nullptr && value->asObject() != nullptr;
  if (value != nullptr && !good) wrongType(key, "a table: [" + std::string(key) + "]");
  return {good ? *value : kEmpty, place_ + "/" + std::string(key), issues_};
}

std::vector<std::string> Section::tables() const {
  std::vector<std::string> out;
  for (const auto& [name, value] : *table_.asObject()) {
    if (value.asObject() != nullptr) out.push_back(name);
  }
  return out;
}

std::vector<std::string> Section::names() const {
  std::vector<std::string> out;
  for (const auto& [name, value] : *table_.asObject()) {
    if (value.asObject() == nullptr) out.push_back(name);
  }
  return out;
}

void Section::refuseUnknown() {
  for (const auto& [name, value] : *table_.asObject()) {
    if (std::find(asked_.begin(), asked_.end(), name) != asked_.end()) continue;
    const std::string_view close = nearest(name, asked_);
    std::string known;
    for (const std::string& each : asked_) known += (known.empty() ? "" : ", ") + each;
    fault(
        name, "There is no key \"" + printable(name) + "\" here",
        close.empty() ? "Known here: " + known + "." : "Did you mean " + std::string(close) + "?");
  }
}

}  // namespace footbridge::config
