// The one file of this folder that knows toml++.

#include "config/section.hpp"

#include <algorithm>

#define TOML_HEADER_ONLY 1
#define TOML_EXCEPTIONS 0
#define TOML_ENABLE_FORMATTERS 0
#include <toml++/toml.h>

#include "core/text.hpp"

namespace footbridge::config {
namespace {

const toml::table& as(const void* table) { return *static_cast<const toml::table*>(table); }

const toml::table& emptyTable() {
  static const toml::table kEmpty;
  return kEmpty;
}

std::string lineOf(const toml::node* node) {
  return node == nullptr ? "" : " (line " + std::to_string(node->source().begin.line) + ")";
}

}  // namespace

struct Document::State {
  toml::table table;
};

Document::Document(std::unique_ptr<State> state) : state_(std::move(state)) {}
Document::~Document() = default;
Document::Document(Document&&) noexcept = default;

Result<Document> Document::parse(std::string_view text) {
  toml::parse_result result = toml::parse(text);
  if (!result) {
    const toml::parse_error& error = result.error();
    return Issue{Severity::Fatal,
                 IssueType::Structure,
                 "config",
                 "",
                 "The configuration is not TOML: " + std::string(error.description()) + ", line " +
                     std::to_string(error.source().begin.line) + ", column " +
                     std::to_string(error.source().begin.column) + ".",
                 "Mend that line. A text needs quotes, a name in brackets opens a table."};
  }
  return Document(std::make_unique<State>(State{std::move(result).table()}));
}

Section Document::root(Issues& issues) const { return {&state_->table, "", issues}; }

bool Section::has(std::string_view key) const { return as(table_).get(key) != nullptr; }

void Section::fault(std::string_view key, const std::string& text, const std::string& mend) {
  const toml::node* node = key.empty() ? &as(table_) : as(table_).get(key);
  std::string place = place_;
  if (!key.empty()) (place += '/') += key;
  issues_.push_back(
      {Severity::Error, IssueType::Value, "config", place, text + lineOf(node) + ".", mend});
}

void Section::wrongType(std::string_view key, std::string_view wanted) {
  fault(key, std::string(key) + " has to be " + std::string(wanted),
        "Write it in that form, or leave it out.");
}

std::optional<std::string> Section::text(std::string_view key) {
  asked_.emplace_back(key);
  const toml::node* node = as(table_).get(key);
  if (node == nullptr) return std::nullopt;
  if (const auto* value = node->as_string(); value != nullptr && !value->get().empty()) {
    return value->get();
  }
  wrongType(key, "a text in quotes that is not empty");
  return std::nullopt;
}

std::optional<bool> Section::flag(std::string_view key) {
  asked_.emplace_back(key);
  const toml::node* node = as(table_).get(key);
  if (node == nullptr) return std::nullopt;
  if (const auto* value = node->as_boolean()) return value->get();
  wrongType(key, "true or false");
  return std::nullopt;
}

std::optional<std::int64_t> Section::whole(std::string_view key, std::int64_t least,
                                           std::int64_t most) {
  asked_.emplace_back(key);
  const toml::node* node = as(table_).get(key);
  if (node == nullptr) return std::nullopt;
  const auto* value = node->as_integer();
  if (value != nullptr && value->get() >= least && value->get() <= most) return value->get();
  wrongType(key, "a whole number from " + std::to_string(least) + " to " + std::to_string(most));
  return std::nullopt;
}

std::vector<std::int64_t> Section::wholes(std::string_view key, std::int64_t least,
                                          std::int64_t most) {
  asked_.emplace_back(key);
  const toml::node* node = as(table_).get(key);
  if (node == nullptr) return {};
  std::vector<std::int64_t> out;
  const toml::array* list = node->as_array();
  if (list != nullptr) {
    for (const toml::node& element : *list) {
      const auto* value = element.as_integer();
      if (value != nullptr && value->get() >= least && value->get() <= most) {
        out.push_back(value->get());
      }
    }
  }
  if (list != nullptr && !list->empty() && out.size() == list->size()) return out;
  wrongType(
      key, "a list of whole numbers from " + std::to_string(least) + " to " + std::to_string(most));
  return {};
}

std::optional<std::size_t> Section::choice(std::string_view key,
                                           const std::vector<std::string>& words) {
  const std::optional<std::string> value = text(key);
  if (!value) return std::nullopt;
  const auto found = std::find(words.begin(), words.end(), *value);
  if (found != words.end()) return static_cast<std::size_t>(found - words.begin());
  std::string all;
  for (const std::string& word : words) all += (all.empty() ? "" : ", ") + word;
  fault(key, std::string(key) + " cannot be \"" + printable(*value) + "\"", "One of: " + all + ".");
  return std::nullopt;
}

Section Section::table(std::string_view key) {
  asked_.emplace_back(key);
  const toml::node* node = as(table_).get(key);
  const toml::table* below = node == nullptr ? nullptr : node->as_table();
  if (node != nullptr && below == nullptr) wrongType(key, "a table: [" + std::string(key) + "]");
  return {below == nullptr ? &emptyTable() : below, place_ + "/" + std::string(key), issues_};
}

std::vector<std::string> Section::tables() {
  std::vector<std::pair<toml::source_index, std::string>> found;
  for (const auto& [key, node] : as(table_)) {
    if (node.is_table()) found.emplace_back(node.source().begin.line, std::string(key.str()));
  }
  std::sort(found.begin(), found.end());
  std::vector<std::string> out;
  out.reserve(found.size());
  for (auto& [line, name] : found) out.push_back(std::move(name));
  return out;
}

void Section::refuseUnknown() {
  for (const auto& [key, node] : as(table_)) {
    const std::string name(key.str());
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
