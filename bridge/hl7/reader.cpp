#include "hl7/reader.hpp"

#include <algorithm>
#include <utility>

#include "core/digest.hpp"
#include "csv/visit.hpp"
#include "hl7/group.hpp"
#include "hl7/head.hpp"
#include "hl7/mllp.hpp"
#include "hl7/result.hpp"

namespace footbridge::hl7 {
namespace {

/// True at the beginning of a segment that belongs to the envelope of a batch.
bool envelope(std::string_view bytes) {
  return bytes.starts_with("FHS") || bytes.starts_with("BHS") || bytes.starts_with("BTS") ||
         bytes.starts_with("FTS");
}

/// Bare messages: each begins with a header at the beginning of a line.
std::vector<std::string> unframed(std::string_view bytes) {
  std::vector<std::string> out;
  if (bytes.starts_with("\xEF\xBB\xBF")) bytes.remove_prefix(3);
  while (!bytes.empty()) {
    const std::size_t end = std::min(bytes.find_first_of("\r\n"), bytes.size() - 1) + 1;
    const std::string_view line = bytes.substr(0, end);
    bytes.remove_prefix(end);
    const bool blank = line.find_first_not_of("\r\n \t") == std::string_view::npos;
    if (envelope(line) || (blank && out.empty())) continue;
    if (out.empty() || line.starts_with("MSH")) {
      out.emplace_back(line);
    } else {
      out.back() += line;
    }
  }
  return out;
}

std::string joinedRaw(const std::vector<const Segment*>& segments) {
  std::string out;
  for (const Segment* segment : segments) {
    out += segment->raw;
    if (!out.ends_with('\r') && !out.ends_with('\n')) out += '\r';
  }
  return out;
}

/// Turns one group into a text.
class Writer {
 public:
  Writer(const Group& group, const Context& context) : group_(group), context_(context) {}

  intake::Text write() {
    Cells head = headOf(group_, context_);
    const std::size_t width = head.columns.size();
    std::vector<csv::Column> columns = std::move(head.columns);
    for (csv::Column& column : resultColumns()) columns.push_back(std::move(column));
    std::vector<csv::Bound> bound;
    for (std::size_t i = 0; i < columns.size(); ++i) bound.push_back({&columns[i], i});
    csv::Visit visit(context_.settings.map, context_.tables, bound);
    for (Issue& found : head.issues) visit.refuse(std::move(found));
    const bool withdrawn = head.withdrawn;
    Issues unread;
    if (!withdrawn) remarkUnread(group_.rest, context_, unread);
    for (Issue& found : unread) visit.refuse(std::move(found));
    visit.add(csv::rowOf(std::move(head), columns.size(), "segment", group_.all.front()->number));
    if (!withdrawn) addResults(visit, width);
    intake::Text out = visit.text();
    out.original->header = joinedRaw({group_.header});
    out.original->rows = joinedRaw(group_.all);
    return out;
  }

 private:
  void addResults(csv::Visit& visit, std::size_t width) const {
    const auto& rest = group_.rest;
    bool flagged = false;
    for (std::size_t i = 0; i < rest.size(); ++i) {
      const Segment& segment = *rest[i];
      if (segment.name != "OBX" || ofTheVisit(segment, context_)) continue;
      std::vector<const Segment*> notes;
      for (std::size_t k = i + 1; k < rest.size() && rest[k]->name == "NTE"; ++k) {
        notes.push_back(rest[k]);
      }
      Issues issues;
      if (!segment.field(8).empty() && !std::exchange(flagged, true)) {
        context_.remark(issues, "hl7-flag", segment.place(8));
      }
      std::optional<csv::Row> row = resultRow(segment, notes, context_, issues);
      for (Issue& found : issues) visit.refuse(std::move(found));
      if (row) visit.add(csv::behind(*std::move(row), width));
    }
  }

  const Group& group_;
  const Context& context_;
};

intake::Text refusal(std::string_view name, std::string_view raw, Issues issues) {
  const std::string input(name);
  return {input, {}, std::move(issues), intake::Original{input, {}, std::string(raw), input, {}}};
}

}  // namespace

std::vector<std::string> messagesIn(std::string_view bytes) {
  if (bytes.find(kFrameStart) == std::string_view::npos) return unframed(bytes);
  Deframer frames(bytes.size() + 1);
  std::vector<std::string> out = frames.take(bytes);
  if (frames.inFrame()) out.emplace_back(frames.partial());
  return out;
}

Reading readingOf(std::string_view bytes, std::string_view name, const Settings& settings,
                  const Tables& tables) {
  Reading out;
  out.digest = sha256(bytes);
  Issues issues;
  const Message message = parse(bytes, settings.map.messages->charset, tables, issues);
  if (const Segment* header = message.header()) {
    out.controlId = header->field(10);
    out.sender = std::string(header->field(3)) + "|" + std::string(header->field(4));
  }
  const std::size_t before = count(issues, Severity::Error);
  checkHeader(message, tables, issues);
  out.supported = message.header() != nullptr && count(issues, Severity::Error) == before;
  const std::vector<Group> groups = groupsOf(message);
  if (groups.empty() && !blocking(issues)) {
    issues.push_back(issue(tables.rule("hl7-no-order"), "OBR[1]-3"));
  }
  checkWhole(message, tables, issues);
  if (!out.supported) out.refusal = issues;
  if (blocking(issues)) {
    out.texts.push_back(refusal(name, bytes, std::move(issues)));
    return out;
  }
  const Context context{message, settings, tables};
  for (const Group& group : groups) {
    intake::Text text = Writer(group, context).write();
    text.name = std::string(name) + " " + text.original->place;
    text.original->input = name;
    text.issues.insert(text.issues.begin(), issues.begin(), issues.end());
    out.texts.push_back(std::move(text));
  }
  return out;
}

void forEachText(std::string_view bytes, const std::string& name, const Settings& settings,
                 const Tables& tables, const std::function<void(intake::Text)>& take) {
  const std::vector<std::string> messages = messagesIn(bytes);
  if (messages.empty()) take({name, {}, {issue(tables.rule("intake-nothing"), "")}});
  for (std::size_t i = 0; i < messages.size(); ++i) {
    const std::string spoken = name + " message " + std::to_string(i + 1);
    for (intake::Text& text : readingOf(messages[i], spoken, settings, tables).texts) {
      take(std::move(text));
    }
  }
}

}  // namespace footbridge::hl7
