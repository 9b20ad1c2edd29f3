#include "deliver/judge.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <optional>

#include "core/text.hpp"
#include "json/events.hpp"
#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::size_t kQuoted = 300;  ///< of what a server says
constexpr std::size_t kPath = 120;    ///< of where it sees a fault
constexpr std::size_t kNamed = 5;     ///< failed entries that a reason names

long numberAt(std::string_view text) {
  long out = 0;
  std::from_chars(text.data(), text.data() + std::min<std::size_t>(text.size(), 3), out);
  return out;
}

/// What may be shown of an element's path: names, indices and types, no comment and no text in
/// quotation marks, which might be of a patient. "" if there is anything else in it.
std::string pathIn(std::string_view said) {
  constexpr std::string_view kShown =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.[]()_:/ ";
  std::string out(said);
  for (std::size_t at = out.find("/*"); at != std::string::npos; at = out.find("/*")) {
    const std::size_t end = out.find("*/", at);
    out.erase(at, end == std::string::npos ? end : end + 2 - at);
  }
  const bool shown = out.find_first_not_of(kShown) == std::string::npos && out.size() <= kPath;
  return shown ? out : std::string{};
}

/// " [Bundle.entry[14].resource.code]", by expression, else location; "" if neither says where.
std::string placeOf(const json::Value& issue) {
  for (const std::string_view name : {"expression", "location"}) {
    for (const json::Value& each : issue.list(name)) {
      const std::string path = each.asString() == nullptr ? "" : pathIn(*each.asString());
      if (!path.empty()) return " [" + path + "]";
    }
  }
  return {};
}

/// One issue in its own words, else by its code.
std::string said(const json::Value& issue) {
  const json::Value* details = issue.member("details");
  std::string_view text = details == nullptr ? "" : details->text("text");
  if (text.empty()) text = issue.text("diagnostics");
  if (text.empty()) text = issue.text("code");
  return text.empty() ? std::string{} : std::string(text) + placeOf(issue);
}

/// What an OperationOutcome says, shortened; "" if it is none. Warnings and hints are told only
/// where there is no error.
std::string said(const json::Value* outcome) {
  std::string errors;
  std::string others;
  static const json::Array kNone;
  for (const json::Value& issue : outcome == nullptr ? kNone : outcome->list("issue")) {
    const std::string_view severity = issue.text("severity");
    const bool mild = severity == "warning" || severity == "information";
    const std::string text = said(issue);
    std::string& out = mild ? others : errors;
    if (!text.empty() && out.size() < kQuoted) (out += out.empty() ? "" : "; ") += text;
  }
  return printable(shortened(errors.empty() ? others : errors, kQuoted));
}

std::string sentence(const AnswerRow& row, long status, const std::string& quoted) {
  std::string out = "Answer " + std::to_string(status) + ": " + std::string(row.text);
  if (!quoted.empty()) out += " (the server says: " + quoted + ")";
  out += '.';
  if (!row.mend.empty()) (out += ' ') += row.mend;
  return out;
}

/// The beginning of a body that is no FHIR, so that a proxy's page can be recognised.
std::string opaque(const std::string& body) {
  return body.empty() ? "an empty body"
                      : "a body that is no FHIR: " + printable(shortened(body, 80));
}

Verdict notAnswered(const Answer& answer) {
  Verdict out;
  out.about = About::Moment;
  out.act = Act::Retry;
  switch (answer.wire) {
    case Wire::NotSent:
      out.reason = "The record server cannot be reached: " + answer.fault + ".";
      break;
    case Wire::Untrusted:
      out.act = Act::Hold;
      out.about = About::Destination;
      out.reason = "The connection is not to be trusted: " + answer.fault +
                   ". Check ca_file, the server's certificate and ours, then release it.";
      break;
    case Wire::TooLarge:
      out.act = Act::RetryBounded;
      out.reason = "The server's answer went on for longer than any receipt. Check base.";
      break;
    default:
      out.reason = "The exchange broke off (" + answer.fault +
                   "); whether it was stored is not known, so the same bundle is sent again.";
  }
  return out;
}

/// What the answer to a bundle says of each entry. Answers are as long as their bundles have
/// entries, which is why no tree is made of them.
class Entries {
 public:
  explicit Entries(std::size_t wanted) : wanted_(wanted) {}

  std::string type;                           ///< of the resource that answers
  std::string kind;                           ///< of the Bundle: "transaction-response"
  std::optional<std::vector<Stored>> stored;  ///< nothing if there is no list of entries

  void hear(json::Part part, std::string_view text) {
    switch (part) {
      case json::Part::BeginObject:
        return open();
      case json::Part::BeginArray:
        open();
        if (depth_ == kList && names_[kRoot] == Name::Entry) stored.emplace().reserve(wanted_);
        return;
      case json::Part::End:
        if (depth_ == kEntry && inEntries()) endEntry();
        --depth_;
        return;
      case json::Part::Name:
        if (depth_ < names_.size()) names_[depth_] = nameOf(text);
        return;
      case json::Part::Text:
        return take(text);
      case json::Part::Other:
        return element();
    }
  }

 private:
  /// Of a member that counts.
  enum class Name : std::uint8_t {
    Other,
    ResourceType,
    Type,
    Entry,
    Response,
    Resource,
    Status,
    Location,
    Etag,
    LastModified,
    Id
  };
  static Name nameOf(std::string_view name) {
    static constexpr std::array<std::string_view, 11> kNames{
        "",       "resourceType", "type", "entry",        "response", "resource",
        "status", "location",     "etag", "lastModified", "id"};
    const auto* const found = std::find(kNames.begin(), kNames.end(), name);
    return found == kNames.end() ? Name::Other : static_cast<Name>(found - kNames.begin());
  }

  // How deep the containers stand: the Bundle, its list, an entry, and a part of that.
  static constexpr std::size_t kRoot = 1;
  static constexpr std::size_t kList = 2;
  static constexpr std::size_t kEntry = 3;
  static constexpr std::size_t kPart = 4;

  void take(std::string_view text) {
    element();
    if (depth_ == kRoot) {
      if (names_[kRoot] == Name::ResourceType) type = text;
      if (names_[kRoot] == Name::Type) kind = text;
    } else if (depth_ == kPart && inEntries()) {
      names_[kEntry] == Name::Response ? takeResponse(text) : takeResource(text);
    }
  }
  void open() {
    element();
    ++depth_;
    if (depth_ < names_.size()) names_[depth_] = Name::Other;
  }
  /// Whatever stands in the list is an entry, if only one that says nothing.
  void element() {
    if (depth_ == kList && inEntries()) stored->emplace_back();
  }
  bool inEntries() const { return stored && names_[kRoot] == Name::Entry; }

  void takeResponse(std::string_view text) {
    Stored& entry = stored->back();
    const Name name = names_[kPart];
    if (name == Name::Status) entry.status = numberAt(text);
    if (name == Name::Location) entry.location = relativeLocation(text);
    if (name == Name::Etag) entry.etag = text;
    if (name == Name::LastModified) entry.modified = text;
  }
  void takeResource(std::string_view text) {
    if (names_[kEntry] != Name::Resource) return;
    if (names_[kPart] == Name::ResourceType) resourceType_ = text;
    if (names_[kPart] == Name::Id) resourceId_ = text;
  }
  void endEntry() {
    Stored& entry = stored->back();
    if (entry.location.empty() && entry.status != 0 && !resourceId_.empty()) {
      entry.location = resourceType_ + "/" + resourceId_;
    }
    resourceType_.clear();
    resourceId_.clear();
  }

  std::size_t wanted_;  ///< entries
  std::size_t depth_ = 0;
  std::array<Name, kPart + 1> names_{};  ///< of the members that are being read, by depth
  std::string resourceType_;
  std::string resourceId_;
};

bool success(const Stored& stored) { return stored.status >= 200 && stored.status < 300; }

/// The failed entries in words, and what is to be done about the worst of them.
void judgeFailures(const Answer& answer, Verdict& out) {
  const Result<json::Value> body = json::read(answer.body);
  static const std::vector<json::Value> kNone;
  const std::vector<json::Value>& entries = body ? body->list("entry") : kNone;
  std::size_t failed = 0;
  std::string named;
  bool permanent = false;
  const AnswerRow* worst = nullptr;
  for (std::size_t i = 0; i < out.stored.size(); ++i) {
    if (success(out.stored[i])) continue;
    const AnswerRow& row = rowFor(out.stored[i].status);
    const bool passing = row.act == Act::Retry || row.act == Act::RetryBounded;
    if (worst == nullptr || (!passing && !permanent)) worst = &row;
    permanent = permanent || !passing;
    if (++failed > kNamed) continue;
    const json::Value* response = i < entries.size() ? entries[i].member("response") : nullptr;
    const std::string quoted = said(response == nullptr ? nullptr : response->member("outcome"));
    named += " Entry " + std::to_string(i) + ": " + std::to_string(out.stored[i].status) +
             (quoted.empty() ? "." : ", " + quoted + ".");
  }
  const bool partly = failed < out.stored.size();
  out.about = permanent ? About::Bundle : About::Moment;
  out.act = worst->act == Act::Renew ? Act::Hold : worst->act;
  if (permanent && partly) out.act = Act::Hold;
  out.reason = std::to_string(failed) + " of " + std::to_string(out.stored.size()) +
               " resources were not stored:" + named;
  if (out.act == Act::Hold && partly) {
    out.reason += " The others were, so the visit is incomplete in the record. ";
    out.reason += worst->mend;
  }
}

Verdict doubtful(std::string why) {
  Verdict out;
  out.act = Act::RetryBounded;
  out.about = About::Moment;
  out.reason = std::move(why);
  return out;
}

Verdict judgeEntries(const Answer& answer, std::size_t wanted, std::string_view sentAs) {
  Entries entries(wanted);
  const bool whole = json::walk(answer.body, [&entries](json::Part part, std::string_view text) {
    entries.hear(part, text);
  });
  if (!whole || entries.type.empty()) {
    return doubtful("Answer " + std::to_string(answer.status) + " with " + opaque(answer.body) +
                    ". Check that base is the address of the FHIR server itself.");
  }
  if (entries.type != "Bundle" || !entries.stored) {
    return doubtful("Answer " + std::to_string(answer.status) +
                    " does not say what became of the resources.");
  }
  Verdict out;
  out.stored = *std::move(entries.stored);
  if (!std::all_of(out.stored.begin(), out.stored.end(), success)) {
    judgeFailures(answer, out);
    return out;
  }
  if (out.stored.size() != wanted) {
    out.reason = "The server answered for " + std::to_string(out.stored.size()) + " of " +
                 std::to_string(wanted) +
                 " resources. Look in the record whether all are there, then release it: what is "
                 "there is not made again.";
    return out;
  }
  if (sentAs == "transaction" && entries.kind == "batch-response") {
    out.reason =
        "The server took the transaction as a batch, so that references between its resources may "
        "lead nowhere. Look at them in the record, then release or drop it.";
    return out;
  }
  out.act = Act::Done;
  return out;
}

}  // namespace

std::size_t Verdict::created() const {
  return static_cast<std::size_t>(std::count_if(
      stored.begin(), stored.end(), [](const Stored& each) { return each.status == 201; }));
}

std::size_t Verdict::present() const {
  return static_cast<std::size_t>(std::count_if(stored.begin(), stored.end(), success)) - created();
}

Verdict judge(const Answer& answer, std::size_t entries, std::string_view sentAs) {
  if (answer.wire != Wire::Answered) return notAnswered(answer);
  const AnswerRow& row = rowFor(answer.status);
  if (row.act == Act::ReadEntries) return judgeEntries(answer, entries, sentAs);
  const Result<json::Value> body = json::read(answer.body);
  Verdict out;
  out.act = row.act;
  out.about = row.about;
  const bool fhir = body && !body->text("resourceType").empty();
  const std::string quoted =
      fhir || answer.body.empty() ? said(fhir ? &*body : nullptr) : opaque(answer.body);
  out.reason = sentence(row, answer.status, quoted);
  return out;
}

Verdict judgeSearch(const Answer& answer) {
  if (answer.wire != Wire::Answered) return notAnswered(answer);
  const Result<json::Value> body = json::read(answer.body);
  Verdict out;
  if (answer.status == 200 && body && body->text("resourceType") == "Bundle") {
    const json::Value* list = body->member("entry");
    const bool found = list != nullptr && list->asArray() != nullptr && !list->asArray()->empty();
    out.act = found ? Act::Done : Act::RetryBounded;
    if (!found) {
      out.reason =
          "The server took it without storing it so far: it is looked for again. If it stays away, "
          "ask the server's keepers, then release it.";
    }
    return out;
  }
  out = judge(answer, 0, "search");
  if (out.act == Act::Done || out.act == Act::Confirm) out.act = Act::RetryBounded;
  return out;
}

std::string relativeLocation(std::string_view location) {
  // Type and id are the last two parts before "/_history/", whatever base stands before them.
  const std::size_t history = location.find("/_history/");
  const std::string_view head = location.substr(0, history);
  const std::size_t slash = head.rfind('/');
  if (slash == std::string_view::npos || slash == 0) return {};
  const std::size_t before = head.rfind('/', slash - 1);
  const std::size_t begin = before == std::string_view::npos ? 0 : before + 1;
  const bool type = head[begin] >= 'A' && head[begin] <= 'Z';
  if (!type || slash + 1 == head.size()) return {};
  return std::string(location.substr(begin));
}

namespace {

constexpr std::size_t kUsualEntry = 120;  ///< bytes of a receipt for one resource

}  // namespace

// Each visit has one, with an entry for each of its resources: pieces are joined here.
std::string receiptOf(const Verdict& verdict, long status, std::string_view request) {
  std::string out;
  out.reserve((verdict.stored.size() + 1) * kUsualEntry + verdict.evidence.size());
  (out += R"({"status":)") += std::to_string(status);
  json::appendMember(out, "request", request);
  out += R"(,"resources":[)";
  for (const Stored& each : verdict.stored) {
    if (out.back() != '[') out += ',';
    (out += R"({"status":)") += std::to_string(each.status);
    json::appendMember(out, "location", each.location);
    json::appendMember(out, "etag", each.etag);
    json::appendMember(out, "modified", each.modified);
    out += '}';
  }
  (out += R"(],"compared":)") += verdict.compared ? "true" : "false";
  if (!verdict.evidence.empty()) (out += R"(,"differences":)") += verdict.evidence;
  out += '}';
  return out;
}

}  // namespace footbridge::deliver
