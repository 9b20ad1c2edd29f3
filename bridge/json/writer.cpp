// The one file that knows RapidJSON's writer.

#define RAPIDJSON_HAS_STDSTRING 1
#include "json/writer.hpp"

#include <rapidjson/stringbuffer.h>
#include <rapidjson/writer.h>

#include <cassert>

#include "core/text.hpp"
#include "json/block.hpp"

namespace footbridge::json {

namespace {

void appendSound(std::string& out, std::string_view text) {
  validUtf8(text) ? appendQuoted(out, text) : appendQuoted(out, printable(text));
}

}  // namespace

struct Writer::State {
  rapidjson::StringBuffer buffer;
  rapidjson::Writer<rapidjson::StringBuffer> rapid{buffer};
  std::string quoted;  ///< room for one text

  void expect([[maybe_unused]] bool written) { assert(written); }

  /// A name or a text. The library would look at each of its characters three times.
  void quote(std::string_view text) {
    quoted.clear();
    appendSound(quoted, text);
    expect(rapid.RawValue(quoted.data(), quoted.size(), rapidjson::kStringType));
  }
};

Writer::Writer() : state_(std::make_unique<State>()) {}
Writer::~Writer() = default;
Writer::Writer(Writer&&) noexcept = default;

Writer& Writer::beginObject() {
  state_->expect(state_->rapid.StartObject());
  return *this;
}

Writer& Writer::endObject() {
  state_->expect(state_->rapid.EndObject());
  return *this;
}

Writer& Writer::beginArray() {
  state_->expect(state_->rapid.StartArray());
  return *this;
}

Writer& Writer::endArray() {
  state_->expect(state_->rapid.EndArray());
  return *this;
}

Writer& Writer::name(std::string_view name) {
  state_->quote(name);
  return *this;
}

Writer& Writer::string(std::string_view value) {
  state_->quote(value);
  return *this;
}

// RawValue, since the library's RawNumber writes a quoted string.
Writer& Writer::number(std::string_view digits) {
  state_->expect(state_->rapid.RawValue(digits.data(), digits.size(), rapidjson::kNumberType));
  return *this;
}

Writer& Writer::number(long long value) {
  state_->expect(state_->rapid.Int64(value));
  return *this;
}

Writer& Writer::boolean(bool value) {
  state_->expect(state_->rapid.Bool(value));
  return *this;
}

Writer& Writer::null() {
  state_->expect(state_->rapid.Null());
  return *this;
}

Writer& Writer::raw(std::string_view json) {
  state_->expect(state_->rapid.RawValue(json.data(), json.size(), rapidjson::kObjectType));
  return *this;
}

Writer& Writer::member(std::string_view name, std::string_view value) {
  return value.empty() ? *this : this->name(name).string(value);
}

std::string_view Writer::text() const {
  return {state_->buffer.GetString(), state_->buffer.GetSize()};
}

namespace {

/// What has to be escaped, in JSON alone or in XHTML inside JSON.
struct InJson {
  static bool escapes(char c) {
    return static_cast<unsigned char>(c) < 0x20 || c == '"' || c == '\\';
  }
  static Block hits(const Block& bytes) {
    return Block((bytes < all(0x20)) | (bytes == all('"')) | (bytes == all('\\')));
  }
};
struct InXhtml {
  static bool escapes(char c) { return InJson::escapes(c) || c == '&' || c == '<' || c == '>'; }
  static Block hits(const Block& bytes) {
    return InJson::hits(bytes) |
           Block((bytes == all('&')) | (bytes == all('<')) | (bytes == all('>')));
  }
};

/// Where the first byte that has to be escaped stands, from `from` on; the size if there is none.
template <class Where>
std::size_t nextToEscape(std::string_view text, std::size_t from) {
  // What is left after whole blocks is looked at in one that overlaps the block before.
  const auto clear = [text](std::size_t at) { return !any(hitsAt<Where>(text.data() + at)); };
  while (text.size() - from >= sizeof(Block) && clear(from)) from += sizeof(Block);
  const bool rest = from + sizeof(Block) > text.size() && text.size() >= sizeof(Block);
  if (rest && clear(text.size() - sizeof(Block))) return text.size();
  while (from < text.size() && !Where::escapes(text[from])) ++from;
  return from;
}

void appendEscape(std::string& out, char c, InJson) {
  static constexpr std::string_view kHex = "0123456789ABCDEF";
  static constexpr std::string_view kShort = "btnvfr";  // for 0x08..0x0D; 0x0B has no short form
  const auto byte = static_cast<unsigned char>(c);
  out += '\\';
  if (byte >= 0x20) {
    out += c;
  } else if (byte >= 0x08 && byte <= 0x0D && byte != 0x0B) {
    out += kShort[byte - 0x08U];
  } else {
    out += "u00";
    out += kHex[byte >> 4U];
    out += kHex[byte & 15U];
  }
}

void appendEscape(std::string& out, char c, InXhtml) {
  if (InJson::escapes(c)) return appendEscape(out, c, InJson{});
  out += c == '&' ? "&amp;" : (c == '<' ? "&lt;" : "&gt;");
}

template <class Where>
void appendEscapedFor(std::string& out, std::string_view text) {
  std::size_t done = 0;
  while (true) {
    const std::size_t at = nextToEscape<Where>(text, done);
    out.append(text.data() + done, at - done);
    if (at == text.size()) return;
    appendEscape(out, text[at], Where{});
    done = at + 1;
  }
}

}  // namespace

void appendEscaped(std::string& out, std::string_view text) { appendEscapedFor<InJson>(out, text); }

void appendXhtml(std::string& out, std::string_view text) { appendEscapedFor<InXhtml>(out, text); }

void appendQuoted(std::string& out, std::string_view text) {
  out += '"';
  appendEscaped(out, text);
  out += '"';
}

void appendMember(std::string& out, std::string_view name, std::string_view text) {
  if (text.empty()) return;
  if (out.back() != '{') out += ',';
  ((out += '"') += name) += "\":";
  appendSound(out, text);
}

namespace {

void appendMembers(std::string& out, const Object& members) {
  out += '{';
  for (const auto& [name, value] : members) {
    if (out.back() != '{') out += ',';
    appendQuoted(out, name);
    out += ':';
    appendValue(out, value);
  }
  out += '}';
}

void appendElements(std::string& out, const Array& elements) {
  out += '[';
  for (const Value& value : elements) {
    if (out.back() != '[') out += ',';
    appendValue(out, value);
  }
  out += ']';
}

}  // namespace

void appendValue(std::string& out, const Value& value) {
  if (const Object* members = value.asObject()) {
    appendMembers(out, *members);
  } else if (const Array* elements = value.asArray()) {
    appendElements(out, *elements);
  } else if (const std::string* text = value.asString()) {
    appendQuoted(out, *text);
  } else if (const Number* number = value.asNumber()) {
    out += number->text;
  } else if (const bool* flag = value.asBool()) {
    out += *flag ? "true" : "false";
  } else {
    out += "null";
  }
}

}  // namespace footbridge::json
