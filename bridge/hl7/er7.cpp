#include "hl7/er7.hpp"

#include <algorithm>
#include <array>
#include <map>

#include "core/text.hpp"
#include "hl7/text.hpp"

namespace footbridge::hl7 {
namespace {

bool plain(char c) { return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9'); }

bool isName(std::string_view name) {
  return name.size() == 3 && std::all_of(name.begin(), name.end(), plain);
}

/// The marks, or false if what stands there can be none: each once, no letter, no control.
bool readMarks(std::string_view bytes, Marks& out) {
  if (!bytes.starts_with("MSH") || bytes.size() < 8) return false;
  const std::string_view found = bytes.substr(3, 5);
  for (std::size_t i = 0; i < found.size(); ++i) {
    const auto c = static_cast<unsigned char>(found[i]);
    const bool letter = plain(found[i]) || (c >= 'a' && c <= 'z');
    if (c <= 0x20 || c > 0x7E || letter || found.find(found[i], i + 1) != found.npos) return false;
  }
  out = {found[0], found[1], found[2], found[3], found[4]};
  return true;
}

/// The bytes of one segment off the front, its terminator included.
std::string_view takeSegment(std::string_view& bytes) {
  std::size_t end = std::min(bytes.find_first_of("\r\n"), bytes.size());
  if (end < bytes.size()) ++end;
  if (bytes.substr(end - 1, 2) == "\r\n") ++end;
  const std::string_view out = bytes.substr(0, end);
  bytes.remove_prefix(end);
  return out;
}

std::string_view withoutEnd(std::string_view raw) {
  return raw.substr(0, std::min(raw.find_first_of("\r\n"), raw.size()));
}

Segment segmentOf(std::string_view raw, const Marks& marks) {
  Segment out;
  out.raw = raw;
  for (const std::string_view field : split(withoutEnd(raw), marks.field)) {
    out.fields.emplace_back(field);
  }
  out.name = out.fields.front();
  if (out.name == "MSH") out.fields.insert(out.fields.begin() + 1, std::string(1, marks.field));
  return out;
}

struct CharsetName {
  std::string_view name;
  Charset charset;
};

/// MSH-18 by HL7 table 0211, as far as it is read here; the first of several is that of the text.
bool readCharset(Message& message, std::string_view fallback, const Tables& tables,
                 Issues& issues) {
  static constexpr std::array<CharsetName, 3> kNames{
      {{"ASCII", Charset::Ascii}, {"UNICODE UTF-8", Charset::Utf8}, {"8859/1", Charset::Latin1}}};
  std::string_view name = part(message.segments.front().field(18), message.marks.repetition, 1);
  if (name.empty()) name = fallback;
  const auto found = std::find_if(kNames.begin(), kNames.end(),
                                  [name](const CharsetName& row) { return row.name == name; });
  if (found != kNames.end()) {
    message.charset = found->charset;
    return true;
  }
  issues.push_back(
      issue(tables.rule("hl7-charset"), "MSH[1]-18", {{"value", shortened(printable(name), 40)}}));
  return false;
}

void checkBytes(const Message& message, const Tables& tables, Issues& issues) {
  for (const Segment& segment : message.segments) {
    for (std::size_t i = 0; i < segment.fields.size(); ++i) {
      if (decoded(segment.fields[i], message.charset)) continue;
      issues.push_back(issue(tables.rule("hl7-encoding"), segment.place(i),
                             {{"charset", nameOf(message.charset)}}));
    }
  }
}

}  // namespace

std::string_view Segment::field(std::size_t wanted) const {
  return wanted < fields.size() ? std::string_view(fields[wanted]) : std::string_view{};
}

std::string Segment::place(std::size_t field) const {
  return name + "[" + std::to_string(occurrence) + "]-" + std::to_string(field);
}

std::vector<std::string_view> split(std::string_view text, char mark) {
  std::vector<std::string_view> out;
  std::size_t end = 0;
  while ((end = text.find(mark)) != std::string_view::npos) {
    out.push_back(text.substr(0, end));
    text.remove_prefix(end + 1);
  }
  out.push_back(text);
  return out;
}

std::string_view part(std::string_view text, char mark, std::size_t number) {
  for (; number > 1; --number) {
    const std::size_t end = text.find(mark);
    if (end == std::string_view::npos) return {};
    text.remove_prefix(end + 1);
  }
  return text.substr(0, text.find(mark));
}

Message parse(std::string_view bytes, std::string_view charset, const Tables& tables,
              Issues& issues) {
  Message out;
  out.raw = bytes;
  if (!readMarks(bytes, out.marks)) {
    issues.push_back(issue(tables.rule("hl7-header"), "MSH[1]-1"));
    return out;
  }
  if (bytes.find('\n') != std::string_view::npos) {
    issues.push_back(issue(tables.rule("hl7-terminator"), ""));
  }
  std::map<std::string, std::size_t> seen;
  for (std::size_t number = 1; !bytes.empty(); ++number) {
    const std::string_view raw = takeSegment(bytes);
    if (withoutEnd(raw).empty()) continue;
    Segment segment = segmentOf(raw, out.marks);
    segment.number = number;
    if (!isName(segment.name)) {
      issues.push_back(issue(tables.rule("hl7-segment"), "segment " + std::to_string(number),
                             {{"value", shortened(printable(withoutEnd(raw)), 40)}}));
      continue;
    }
    segment.occurrence = ++seen[segment.name];
    out.segments.push_back(std::move(segment));
  }
  if (readCharset(out, charset, tables, issues)) checkBytes(out, tables, issues);
  return out;
}

}  // namespace footbridge::hl7
