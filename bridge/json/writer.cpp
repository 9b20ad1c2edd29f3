// The one file that knows RapidJSON's writer.

#define RAPIDJSON_HAS_STDSTRING 1
#include "json/writer.hpp"

#include <rapidjson/stringbuffer.h>
#include <rapidjson/writer.h>

#include <algorithm>
#include <cassert>
#include <cstdint>
#include <cstring>

namespace footbridge::json {

struct Writer::State {
  using Rapid = rapidjson::Writer<rapidjson::StringBuffer, rapidjson::UTF8<>, rapidjson::UTF8<>,
                                  rapidjson::CrtAllocator, rapidjson::kWriteValidateEncodingFlag>;
  rapidjson::StringBuffer buffer;
  Rapid rapid{buffer};

  void expect([[maybe_unused]] bool written) { assert(written); }
};

namespace {

rapidjson::SizeType size(std::string_view text) {
  return static_cast<rapidjson::SizeType>(text.size());
}

}  // namespace

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
  state_->expect(state_->rapid.Key(name.data(), size(name)));
  return *this;
}

Writer& Writer::string(std::string_view value) {
  state_->expect(state_->rapid.String(value.data(), size(value)));
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

bool plain(char c) {
  const auto byte = static_cast<unsigned char>(c);
  return byte >= 0x20 && byte != '"' && byte != '\\';
}

/// True if none of eight bytes has to be escaped. The high bit of each octet of a term says whether
/// that byte is below 0x20 or equals the one looked for (the borrow can only raise a false alarm,
/// which the caller settles byte by byte).
bool allPlain(const char* eight) {
  constexpr std::uint64_t kOnes = 0x0101010101010101U;
  constexpr std::uint64_t kHigh = 0x8080808080808080U;
  std::uint64_t bytes = 0;
  std::memcpy(&bytes, eight, sizeof bytes);
  const std::uint64_t control = (bytes - kOnes * 0x20) & ~bytes;
  const std::uint64_t quote = bytes ^ (kOnes * '"');
  const std::uint64_t slash = bytes ^ (kOnes * '\\');
  const std::uint64_t hits = control | ((quote - kOnes) & ~quote) | ((slash - kOnes) & ~slash);
  return (hits & kHigh) == 0;
}

/// Where the first byte that has to be escaped stands, from `from` on; the size if there is none.
std::size_t nextToEscape(std::string_view text, std::size_t from) {
  constexpr std::size_t kStep = 8;
  constexpr std::size_t kStride = 4 * kStep;
  while (from + kStride <= text.size()) {
    const char* const at = text.data() + from;
    const bool first = allPlain(at) & allPlain(at + kStep);
    if (!(first & allPlain(at + 2 * kStep) & allPlain(at + 3 * kStep))) break;
    from += kStride;
  }
  while (from < text.size()) {
    if (from + kStep <= text.size() && allPlain(text.data() + from)) {
      from += kStep;
      continue;
    }
    const std::size_t end = std::min(from + kStep, text.size());
    for (; from < end; ++from) {
      if (!plain(text[from])) return from;
    }
  }
  return from;
}

void appendEscape(std::string& out, char c) {
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

}  // namespace

void appendEscaped(std::string& out, std::string_view text) {
  std::size_t done = 0;
  while (true) {
    const std::size_t at = nextToEscape(text, done);
    out.append(text.data() + done, at - done);
    if (at == text.size()) return;
    appendEscape(out, text[at]);
    done = at + 1;
  }
}

void appendQuoted(std::string& out, std::string_view text) {
  out += '"';
  appendEscaped(out, text);
  out += '"';
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
