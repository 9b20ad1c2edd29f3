#include "intake/texts.hpp"

#include <istream>
#include <utility>

#include "core/text.hpp"
#include "json/value.hpp"

namespace footbridge::intake {
namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

Issue tooLong(std::size_t limit) {
  return {Severity::Error,
          IssueType::TooLong,
          "json-syntax",
          "",
          "One text is larger than " + std::to_string(limit >> 20U) + " MB.",
          "Send one assessment a line, each below that size."};
}

Issue nothing() {
  return {Severity::Error,
          IssueType::Required,
          "intake-nothing",
          "",
          "There is no assessment in this input.",
          "Send one assessment, a list of them, or one a line."};
}

/// Reads up to the end of the line. Beyond the limit the bytes are dropped but counted as too long.
struct Line {
  std::string bytes;
  bool whole = true;
};

bool readLine(std::istream& in, Line& line, std::size_t limit) {
  line = {};
  std::streambuf* const buffer = in.rdbuf();
  int c = buffer->sbumpc();
  if (c == std::char_traits<char>::eof()) return false;
  for (; c != std::char_traits<char>::eof() && c != '\n'; c = buffer->sbumpc()) {
    if (line.bytes.size() < limit) {
      line.bytes += static_cast<char>(c);
    } else {
      line.whole = false;
    }
  }
  return true;
}

bool isWholeObject(std::string_view line) {
  const std::string_view text = trimmed(line);
  return text.starts_with('{') && text.ends_with('}') && json::read(text);
}

/// The place that stands for the longest part of the pointer.
const std::string& placeOf(const std::string& pointer, const Original& original) {
  const std::string* found = &original.place;
  std::size_t longest = 0;
  for (const auto& [part, place] : original.places) {
    const bool above =
        pointer.starts_with(part) && (pointer.size() == part.size() || pointer[part.size()] == '/');
    if (!above || part.size() <= longest) continue;
    longest = part.size();
    found = &place;
  }
  return *found;
}

}  // namespace

void relocate(Issues& issues, const Original& original, const Tables& tables) {
  for (Issue& issue : issues) {
    if (!issue.place.empty() && !issue.place.starts_with('/')) continue;
    issue.place = placeOf(issue.place, original);
    if (original.wording == Original::Wording::Sender) continue;
    const std::string& mend = tables.rule(issue.rule).mendInTable;
    if (!mend.empty()) issue.mend = mend;
  }
}

struct Texts::State {
  std::istream& in;
  std::string name;
  Layout layout;
  std::size_t lineNumber = 0;
  bool lines = false;
  bool started = false;
  bool yielded = false;
  std::optional<Text> ready;
  std::string listBytes;  ///< of a list, whose elements are cut out one by one
  json::Array list;
  std::size_t taken = 0;

  State(std::istream& from, std::string called, Layout cut)
      : in(from), name(std::move(called)), layout(cut) {}

  void start();
  void takeWhole(std::string bytes, bool whole);
  std::optional<Text> line();
  Text element();
  Text asText(Line&& line) const;
};

Texts::Texts(std::istream& in, std::string name, Layout layout)
    : state_(std::make_unique<State>(in, std::move(name), layout)) {}

Texts::~Texts() = default;

Text Texts::State::asText(Line&& line) const {
  Text out{name + ":" + std::to_string(lineNumber), std::move(line.bytes), {}};
  if (!line.whole) out.issues.push_back(tooLong(kLineLimit));
  return out;
}

/// Looks at the first line that is not blank and decides how the rest is cut.
void Texts::State::start() {
  started = true;
  Line line;
  do {
    if (!readLine(in, line, kTextLimit)) return;
    ++lineNumber;
    if (lineNumber == 1 && line.bytes.starts_with(kByteOrderMark)) line.bytes.erase(0, 3);
  } while (trimmed(line.bytes).empty());
  lines = layout == Layout::Lines || isWholeObject(line.bytes);
  if (lines) {
    line.whole = line.whole && line.bytes.size() <= kLineLimit;
    ready = asText(std::move(line));
    return;
  }
  std::string bytes = std::move(line.bytes);
  bool whole = line.whole;
  while (whole && readLine(in, line, kTextLimit)) {
    bytes += '\n';
    bytes += line.bytes;
    whole = line.whole && bytes.size() <= kTextLimit;
  }
  takeWhole(std::move(bytes), whole);
}

/// One text: an object, or a list whose elements are taken apart; whatever is broken is passed on
/// for the reader of assessments to name.
void Texts::State::takeWhole(std::string bytes, bool whole) {
  if (!whole) {
    ready = Text{name, {}, {tooLong(kTextLimit)}};
    return;
  }
  if (!trimmed(bytes).starts_with('[')) {
    ready = Text{name, std::move(bytes), {}};
    return;
  }
  Result<json::Value> value = json::read(bytes);
  if (!value) {
    ready = Text{name, {}, value.issues()};
    return;
  }
  list = std::move(std::get<json::Array>(value->content()));
  listBytes = std::move(bytes);
}

Text Texts::State::element() {
  const json::Value element = std::move(list[taken]);
  Text text{name + "[" + std::to_string(taken) + "]", {}, {}};
  ++taken;
  if (element.asObject() != nullptr) {
    text.bytes = listBytes.substr(element.span.begin, element.span.end - element.span.begin);
  } else {
    text.issues.push_back(
        {Severity::Error, IssueType::Structure, "intake-type", "",
         "An element of the list is " + std::string(element.typeName()) + ", not an assessment.",
         "Send objects in the list."});
  }
  return text;
}

std::optional<Text> Texts::State::line() {
  Line line;
  while (readLine(in, line, kLineLimit)) {
    ++lineNumber;
    if (!trimmed(line.bytes).empty() || !line.whole) return asText(std::move(line));
  }
  return std::nullopt;
}

std::optional<Text> Texts::next() {
  if (!state_->started) state_->start();
  std::optional<Text> out;
  if (state_->ready) {
    out = std::exchange(state_->ready, std::nullopt);
  } else if (state_->taken < state_->list.size()) {
    out = state_->element();
  } else if (state_->lines) {
    out = state_->line();
  } else if (!state_->yielded) {
    out = Text{state_->name, {}, {nothing()}};
  }
  state_->yielded = true;
  return out;
}

}  // namespace footbridge::intake
