#pragma once
// A message of HL7 v2 in its vertical-bar form (HL7 v2.5.1 chapter 2) as segments and fields. The
// marks are those of the message; nothing is unescaped here.

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/issue.hpp"
#include "tables/tables.hpp"

namespace footbridge::hl7 {

/// MSH-1 and MSH-2.
struct Marks {
  char field = '|';
  char component = '^';
  char repetition = '~';
  char escape = '\\';
  char sub = '&';
};

enum class Charset : std::uint8_t { Ascii, Utf8, Latin1 };

struct Segment {
  std::string name;
  std::vector<std::string> fields;  ///< by their number; 0 is the name, MSH-1 the mark itself
  std::string raw;                  ///< with its terminator, as it came
  std::size_t number = 1;           ///< in the message, from 1
  std::size_t occurrence = 1;       ///< among those of its name, from 1

  /// The field as it stands, "" if it is not there.
  std::string_view field(std::size_t number) const;

  /// "OBX[3]-5": for people, and for ERR-2.
  std::string place(std::size_t field) const;
};

struct Message {
  Marks marks;
  Charset charset = Charset::Ascii;
  std::vector<Segment> segments;  ///< empty if there is no header to go by
  std::string raw;

  const Segment* header() const { return segments.empty() ? nullptr : &segments.front(); }
};

/// The parts between marks; of "" one that is "".
std::vector<std::string_view> split(std::string_view text, char mark);

/// The part of that number, from 1; "" if it is not there.
std::string_view part(std::string_view text, char mark, std::size_t number);

/// Cuts a message up. Segments end with CR; LF and CRLF are taken too, with a remark. `charset` is
/// that of messages that leave MSH-18 empty. Every problem is an issue; an error means that the
/// content cannot be trusted.
Message parse(std::string_view bytes, std::string_view charset, const Tables& tables,
              Issues& issues);

}  // namespace footbridge::hl7
