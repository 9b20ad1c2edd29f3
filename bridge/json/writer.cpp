// The one file that knows RapidJSON's writer.

#define RAPIDJSON_HAS_STDSTRING 1
#include "json/writer.hpp"

#include <rapidjson/stringbuffer.h>
#include <rapidjson/writer.h>

#include <array>
#include <cassert>

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

void appendEscaped(std::string& out, std::string_view text) {
  static constexpr std::string_view kHex = "0123456789ABCDEF";
  static constexpr std::string_view kShort = "btnvfr";  // for 0x08..0x0D; 0x0B has no short form
  std::size_t done = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    if (byte >= 0x20 && byte != '"' && byte != '\\') continue;
    out.append(text, done, i - done);
    done = i + 1;
    out += '\\';
    if (byte >= 0x20) {
      out += text[i];
    } else if (byte >= 0x08 && byte <= 0x0D && byte != 0x0B) {
      out += kShort[byte - 0x08U];
    } else {
      out += "u00";
      out += kHex[byte >> 4U];
      out += kHex[byte & 15U];
    }
  }
  out.append(text, done);
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
