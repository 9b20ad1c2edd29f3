#include "hl7/acknowledge.hpp"

#include <algorithm>

#include "core/digest.hpp"
#include "hl7/er7.hpp"
#include "hl7/text.hpp"

namespace footbridge::hl7 {
namespace {

/// What an acknowledgement says, in the letters of HL7 table 0008 after the A or C.
enum class Word : char { Accepted = 'A', Error = 'E', Rejected = 'R' };

std::string stampOf(const Instant& now) {
  std::string out = text(now);  // 2026-10-05T10:20:00+01:00
  std::erase_if(out, [](char c) { return c == '-' || c == ':' || c == 'T'; });
  if (out.find('+') == std::string::npos && out.size() > 14) out.insert(14, 1, '-');
  return out;
}

/// A condition of HL7 table 0357.
struct Condition {
  std::string_view code;
  std::string_view text;
};

Condition conditionOf(const Issue& found) {
  if (found.rule == "hl7-event") return {"200", "Unsupported message type"};
  if (found.rule == "hl7-processing") return {"202", "Unsupported processing id"};
  if (found.rule == "hl7-version") return {"203", "Unsupported version id"};
  switch (found.type) {
    case IssueType::Structure:
      return {"100", "Segment sequence error"};
    case IssueType::Required:
      return {"101", "Required field missing"};
    case IssueType::Value:
      return {"102", "Data type error"};
    case IssueType::CodeInvalid:
      return {"103", "Table value not found"};
    case IssueType::Duplicate:
      return {"205", "Duplicate key identifier"};
    default:
      return {"207", "Application internal error"};
  }
}

/// "OBX[3]-5" as ERL: OBX^3^5; "" for a place that names no field.
std::string locationOf(std::string_view place) {
  const std::size_t open = place.find('[');
  const std::size_t close = place.find("]-");
  if (open != 3 || close == std::string_view::npos) return {};
  std::string out(place.substr(0, 3));
  (out += '^') += place.substr(4, close - 4);
  return (out += '^') += place.substr(close + 2);
}

std::string errorOf(const Issue& found) {
  const Marks marks;
  const Condition condition = conditionOf(found);
  std::string out = "ERR||" + locationOf(found.place) + "|" + std::string(condition.code) + "^" +
                    std::string(condition.text) + "^HL70357|";
  out += found.severity == Severity::Warning       ? "W"
         : found.severity == Severity::Information ? "I"
                                                   : "E";
  out += "||||" + escaped(found.place + ": " + found.text + " " + found.mend, marks);
  return out + "\r";
}

/// Answers to one message.
class Answers {
 public:
  Answers(const Message& message, const Instant& now) : message_(message), now_(now) {}

  /// An acknowledgement with these remarks.
  std::string message(const std::string& code, const Issues& issues) const {
    std::string out = header(code);
    out += "MSA|" + code + "|" + field(10) + "\r";
    for (const Issue& found : issues) {
      if (found.severity != Severity::Information) out += errorOf(found);
    }
    return out;
  }

  /// True if MSH-15 or MSH-16 asks for an acknowledgement of that kind (HL7 table 0155).
  bool wanted(std::size_t number, Word word) const {
    const std::string asked = field(number);
    if (asked == "AL") return true;
    if (asked == "ER") return word != Word::Accepted;
    return asked == "SU" && word == Word::Accepted;
  }

  bool enhanced() const { return !field(15).empty() || !field(16).empty(); }

 private:
  /// A field of the header, with the marks of the message turned into those of the answer.
  std::string field(std::size_t number) const {
    const Segment* from = message_.header();
    if (from == nullptr) return {};
    std::string out;
    for (const char c : from->field(number)) {
      if (c == message_.marks.component) {
        out += '^';
      } else if (c == message_.marks.repetition) {
        out += '~';
      } else if (c == message_.marks.sub) {
        out += '&';
      } else if (c == message_.marks.escape) {
        out += '\\';
      } else {
        const auto byte = static_cast<unsigned char>(c);
        out += c == '|' || c == '^' || c == '~' || c == '&' || byte < 0x20 || byte > 0x7E ? ' ' : c;
      }
    }
    return out;
  }

  std::string header(const std::string& code) const {
    const std::string version = field(12).empty() ? "2.5.1" : field(12);
    const std::string mode = field(11).empty() ? "P" : field(11);
    const std::string number = sha256(message_.raw + code + text(now_)).substr(0, 20);
    return "MSH|^~\\&|" + field(5) + "|" + field(6) + "|" + field(3) + "|" + field(4) + "|" +
           stampOf(now_) + "||ACK^R01^ACK|" + number + "|" + mode + "|" + version + "\r";
  }

  const Message& message_;
  const Instant& now_;
};

Word wordOf(Stored stored, const Issues& issues) {
  if (stored == Stored::Unable) return Word::Rejected;
  if (stored == Stored::Conflict) return Word::Error;
  return blocking(issues) ? Word::Error : Word::Accepted;
}

/// Original mode answers once; enhanced mode tells safe storage from what the content was worth.
Reply replyOf(const Answers& answers, Word accept, Word content, const Issues& issues) {
  Reply out;
  const std::string application = std::string("A") + static_cast<char>(content);
  out.code = application;
  if (!answers.enhanced()) {
    out.messages.push_back(answers.message(application, issues));
    return out;
  }
  const bool kept = accept == Word::Accepted;
  const std::string commit = std::string("C") + static_cast<char>(accept);
  if (!kept) out.code = commit;
  if (answers.wanted(15, accept)) {
    out.messages.push_back(answers.message(commit, kept ? Issues{} : issues));
  }
  if (kept && answers.wanted(16, content)) {
    out.messages.push_back(answers.message(application, issues));
  }
  return out;
}

Issue remarkOf(Stored stored, const Tables& tables) {
  const bool twice = stored == Stored::Conflict;
  return issue(tables.rule(choose(twice, "hl7-control-id-twice", "hl7-not-stored")), "MSH[1]-10");
}

}  // namespace

Reply acknowledge(std::string_view bytes, const Reading& reading, Verdict verdict,
                  const Settings& settings, const Tables& tables, const Instant& now) {
  Issues ignored;
  const Message message = parse(bytes, settings.map.messages->charset, tables, ignored);
  const Answers answers(message, now);
  if (!reading.supported) {
    return replyOf(answers, Word::Rejected, Word::Rejected, reading.refusal);
  }
  if (verdict.stored == Stored::Conflict || verdict.stored == Stored::Unable) {
    verdict.issues.insert(verdict.issues.begin(), remarkOf(verdict.stored, tables));
  }
  const Word content = wordOf(verdict.stored, verdict.issues);
  const bool kept = verdict.stored == Stored::Now || verdict.stored == Stored::Before;
  return replyOf(answers, kept ? Word::Accepted : content, content, verdict.issues);
}

Reply reject(std::string_view beginning, const Issue& because, const Settings& settings,
             const Tables& tables, const Instant& now) {
  Reading unread;
  unread.supported = false;
  unread.refusal = {because};
  const std::string_view header = beginning.substr(0, beginning.find_first_of("\r\n"));
  return acknowledge(header, unread, {}, settings, tables, now);
}

Reply answer(std::string_view bytes, const Settings& settings, const Tables& tables,
             const Instant& now, const Commit& commit) {
  const Reading reading = readingOf(bytes, "message", settings, tables);
  return acknowledge(bytes, reading, reading.supported ? commit(reading) : Verdict{}, settings,
                     tables, now);
}

}  // namespace footbridge::hl7
