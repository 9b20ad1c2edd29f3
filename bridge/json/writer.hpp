#pragma once
// JSON out, straight to a buffer. Writer is for everything written once (reports, tables, prepared
// pieces of resources): RapidJSON's writer, which checks the shape. appendQuoted() is for the hot
// path, where prepared pieces are joined and only the assessment's own texts have to be escaped.

#include <memory>
#include <string>
#include <string_view>

#include "json/value.hpp"

namespace footbridge::json {

/// Writes one JSON text in compact form. Calls follow the shape of the text; a call that does not
/// fit is a fault of ours and asserted. A text that is no UTF-8 is written as printable() has it.
///
///   Writer out;
///   out.beginObject().name("value").number("0.90").endObject();
///   out.text();  // {"value":0.90}
class Writer {
 public:
  Writer();
  ~Writer();
  Writer(Writer&&) noexcept;

  Writer& beginObject();
  Writer& endObject();
  Writer& beginArray();
  Writer& endArray();
  Writer& name(std::string_view name);
  Writer& string(std::string_view value);
  Writer& number(std::string_view digits);  ///< digits as they shall stand: no double is involved
  Writer& number(long long value);
  Writer& boolean(bool value);
  Writer& null();
  Writer& raw(std::string_view json);  ///< one complete value that is JSON already

  /// Name and text in one; nothing at all where the text is empty, since FHIR forbids "".
  Writer& member(std::string_view name, std::string_view value);

  std::string_view text() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// Appends the text as a JSON string with its quotes.
void appendQuoted(std::string& out, std::string_view text);

/// Appends one more member of the object that `out` ends in; nothing where the text is empty, since
/// FHIR forbids "". A text that is no UTF-8 is written as printable() has it.
void appendMember(std::string& out, std::string_view name, std::string_view text);

/// Appends the value in compact form, members in their order, numbers as written.
void appendValue(std::string& out, const Value& value);

/// Appends the inside of such a string, without quotes.
void appendEscaped(std::string& out, std::string_view text);

/// The same of a text that is to be XHTML once the JSON is read: & < > are escaped for that first.
void appendXhtml(std::string& out, std::string_view text);

}  // namespace footbridge::json
