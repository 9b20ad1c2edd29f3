#include "intake/node.hpp"

#include <algorithm>

namespace footbridge::intake {
namespace {

/// Far above any use; without a bound one line could bring millions of remarks.
constexpr std::size_t kLongestList = 1000;

/// FHIR's string takes line breaks and tabs and no other control character.
bool hasControlCharacter(std::string_view text) {
  return std::any_of(text.begin(), text.end(), [](char c) {
    const auto byte = static_cast<unsigned char>(c);
    return (byte < 0x20 && c != '\n' && c != '\r' && c != '\t') || byte == 0x7F;
  });
}

/// Code points, which is what the schema's maxLength counts.
std::size_t characters(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0) != 0x80;
  }));
}

/// The place of a name among these, their number if it is none of them. Looks from `next` on, which
/// is where the name after the last one found stands: most senders keep to one order.
std::size_t placeOf(std::string_view name, std::span<const std::string> names, std::size_t& next) {
  for (std::size_t i = 0; i < names.size(); ++i) {
    const std::size_t at = next;
    next = next + 1 == names.size() ? 0 : next + 1;
    if (sameText(names[at], name)) return at;
  }
  return names.size();
}

}  // namespace

std::string Node::pointer() const {
  if (parent_ == nullptr) return {};
  return name_.empty() ? json::child(parent_->pointer(), index_)
                       : json::child(parent_->pointer(), name_);
}

std::string Node::label() const {
  if (parent_ == nullptr) return {};
  std::string out = parent_->label();
  if (!name_.empty()) (out += out.empty() ? "" : " ") += name_;
  return out;
}

std::optional<Node> Node::find(std::string_view name) const {
  const json::Value* value = value_.member(name);
  if (value == nullptr) return std::nullopt;
  return Node(*this, *value, name, 0);
}

std::optional<Node> Node::child(std::string_view name) const {
  std::optional<Node> out = find(name);
  if (!out) {
    const std::string own = label();
    const std::string wanted = own.empty() ? std::string(name) : own + " " + std::string(name);
    remark("intake-required", {{"label", wanted}});
  }
  return out;
}

Node Node::element(const json::Value& value, std::size_t index) const {
  return {*this, value, {}, index};
}

std::vector<const json::Value*> Node::membersBy(std::span<const std::string> names) const {
  std::vector<const json::Value*> out(names.size());
  sortOut(names, out);
  return out;
}

/// Puts what is known at the place of its name, where there is room for it, and refuses the rest.
void Node::sortOut(std::span<const std::string> names, std::span<const json::Value*> found) const {
  const json::Object* members = value_.asObject();
  if (members == nullptr) return;
  std::size_t next = 0;
  for (const auto& [name, content] : *members) {
    const std::size_t place = placeOf(name, names, next);
    if (place < names.size()) {
      if (!found.empty()) found[place] = &content;
      continue;
    }
    const std::string_view close = nearest(name, names);
    const std::string hint = close.empty() ? "Leave it out; docs/input.md lists what is read here."
                                           : "Did you mean \"" + std::string(close) + "\"?";
    context_.issues.push_back(
        issue(context_.tables.rule("intake-member-unknown"), json::child(pointer(), name),
              {{"name", "\"" + std::string(shortened(name, 60)) + "\""}, {"hint", hint}}));
  }
}

Node Node::named(const json::Value& value, std::string_view name) const {
  return {*this, value, name, 0};
}

bool Node::isA(bool right, std::string_view wanted) const {
  if (right) return true;
  if (value_.isNull()) {
    remarkNamed("intake-null");
  } else {
    remark("intake-type", {{"label", label()}, {"wanted", wanted}, {"found", value_.typeName()}});
  }
  return false;
}

bool Node::isObject() const { return isA(value_.asObject() != nullptr, "an object"); }

bool Node::isList() const {
  if (!isA(value_.asArray() != nullptr, "a list")) return false;
  if (value_.asArray()->size() <= kLongestList) return true;
  remarkNamed("intake-list-long", "limit", std::to_string(kLongestList));
  return false;
}

std::optional<std::string> Node::text(std::size_t limit) const {
  const std::string* content = value_.asString();
  if (!isA(content != nullptr, "a text")) return std::nullopt;
  const std::string_view inner = trimmed(*content);
  if (inner.empty()) {
    remarkNamed("intake-text-empty");
  } else if (hasControlCharacter(inner)) {
    remarkNamed("intake-text-control");
  } else if (inner.size() > limit && characters(inner) > limit) {
    remarkNamed("intake-text-long", "limit", std::to_string(limit));
  } else {
    return std::string(inner);
  }
  return std::nullopt;
}

std::optional<Instant> Node::instant() const {
  const std::optional<std::string> written = text(40);
  if (!written) return std::nullopt;
  const std::optional<Instant> out = parseInstant(*written);
  if (!out) remarkNamed("intake-instant", "value", *written);
  return out;
}

std::optional<Date> Node::date() const {
  const std::optional<std::string> written = text(40);
  if (!written) return std::nullopt;
  const std::optional<Date> out = parseDate(*written);
  if (!out) remarkNamed("intake-date", "value", *written);
  return out;
}

std::optional<std::int32_t> Node::wholeFrom(std::int32_t least, std::int32_t most) const {
  const json::Number* number = value_.asNumber();
  if (!isA(number != nullptr, "a number")) return std::nullopt;
  const std::optional<Decimal> decimal = Decimal::parse(number->text);
  const std::int64_t whole = decimal && decimal->whole() ? decimal->floor() : -1;
  if (whole < least || whole > most) {
    remarkNamed("intake-whole");
    return std::nullopt;
  }
  return static_cast<std::int32_t>(whole);
}

void Node::remark(std::string_view rule, Arguments arguments) const {
  context_.issues.push_back(issue(context_.tables.rule(rule), pointer(), arguments));
}

void Node::remarkNamed(std::string_view rule, std::string_view key, std::string_view value) const {
  remark(rule, {{"label", label()}, {key, value}});
}

}  // namespace footbridge::intake
