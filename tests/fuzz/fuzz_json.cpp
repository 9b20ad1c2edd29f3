// Any bytes into the JSON reader: a tree or issues, never anything else. What was read is written
// again and must read as the same text; the walk without a tree takes it as well.

#include <cstdint>
#include <cstdlib>
#include <string>

#include "json/events.hpp"
#include "json/value.hpp"
#include "json/writer.hpp"

namespace {

void write(footbridge::json::Writer& out, const footbridge::json::Value& value) {
  if (const auto* members = value.asObject()) {
    out.beginObject();
    for (const auto& [name, content] : *members) {
      out.name(name);
      write(out, content);
    }
    out.endObject();
  } else if (const auto* elements = value.asArray()) {
    out.beginArray();
    for (const auto& element : *elements) write(out, element);
    out.endArray();
  } else if (const auto* text = value.asString()) {
    out.string(*text);
  } else if (const auto* number = value.asNumber()) {
    out.number(number->text);
  } else if (const auto* flag = value.asBool()) {
    out.boolean(*flag);
  } else {
    out.null();
  }
}

std::string written(const footbridge::json::Value& value) {
  footbridge::json::Writer out;
  write(out, value);
  return std::string(out.text());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  const std::string text(bytes, bytes + size);
  const auto value = footbridge::json::read(text);
  const auto unheard = [](footbridge::json::Part, std::string_view) {};
  if (!footbridge::json::walk(text, unheard) && value) std::abort();
  if (!value) {
    if (value.issues().empty()) std::abort();
    return 0;
  }
  const std::string once = written(*value);
  const auto again = footbridge::json::read(once);
  if (!again || written(*again) != once) std::abort();
  return 0;
}
