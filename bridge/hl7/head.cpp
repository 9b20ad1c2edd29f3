#include "hl7/head.hpp"

#include <algorithm>
#include <array>

#include "core/text.hpp"
#include "core/time.hpp"
#include "csv/state.hpp"
#include "hl7/text.hpp"
#include "hl7/times.hpp"

namespace footbridge::hl7 {
namespace {

using csv::Role;

constexpr std::array<std::string_view, 3> kVisitTexts{"conditions.room", "performer.role", "note"};

bool digits(std::string_view text) {
  return text.find_first_not_of("0123456789") == std::string_view::npos;
}

std::string joined(std::string_view first, std::string_view second, std::string_view between) {
  std::string out(first);
  if (!first.empty() && !second.empty()) out += between;
  return out += second;
}

/// Fills the cells of one group.
class Head {
 public:
  Head(const Group& group, const Context& context) : group_(group), context_(context) {}

  Cells read() {
    readState();
    if (group_.order != nullptr) readOrder();
    if (group_.patient == nullptr) {
      context_.remark(out_.issues, "hl7-no-patient", "PID[1]-3");
    } else {
      readPatient(*group_.patient);
    }
    if (group_.visit != nullptr) identifier(*group_.visit, 19, "/encounter/identifier", "/visits");
    readPerformer();
    readOrganization();
    readVisitTexts();
    return std::move(out_);
  }

 private:
  char component() const { return context_.message.marks.component; }
  char sub() const { return context_.message.marks.sub; }

  void add(Role role, std::string_view pointer, const Segment& segment, std::size_t field,
           std::string_view raw) {
    std::string text = context_.text(raw, segment.place(field), out_.issues);
    if (!text.empty()) out_.add(role, pointer, std::move(text), segment.place(field));
  }

  /// A value with its assigning authority.
  void number(std::string_view pointer, std::string_view fallback, const Segment& segment,
              std::size_t field, std::string_view value, std::string_view authority, char mark) {
    const std::string place = segment.place(field);
    std::string text = context_.text(value, place, out_.issues);
    if (text.empty()) return;
    const auto system = systemOf(authority, mark, fallback, context_.settings.map);
    if (system) return out_.add(Role::Identifier, pointer, std::move(text), place, *system);
    context_.remark(out_.issues, "hl7-authority", place,
                    {{"value", shortened(printable(authority), 60)}});
  }

  /// EI, or CX with the authority in its fourth component.
  void identifier(const Segment& segment, std::size_t field, std::string_view pointer,
                  std::string_view fallback) {
    const std::string_view raw = part(segment.field(field), context_.message.marks.repetition, 1);
    const std::string_view value = part(raw, component(), 1);
    if (segment.name == "PV1") {
      return number(pointer, fallback, segment, field, value, part(raw, component(), 4), sub());
    }
    const std::size_t end = std::min(value.size() + 1, raw.size());
    number(pointer, fallback, segment, field, value, raw.substr(end), component());
  }

  void readPatient(const Segment& pid) {
    for (const std::string_view cx : split(pid.field(3), context_.message.marks.repetition)) {
      number("/patient/identifiers", "/patients", pid, 3, part(cx, component(), 1),
             part(cx, component(), 4), sub());
    }
    const std::string_view name = part(pid.field(5), context_.message.marks.repetition, 1);
    add(Role::Text, "/patient/family", pid, 5, part(part(name, component(), 1), sub(), 1));
    add(Role::Given, "/patient/given", pid, 5, part(name, component(), 2));
    add(Role::Given, "/patient/given", pid, 5, part(name, component(), 3));
    const std::string birth = momentOf(pid.field(7).substr(0, 8), "");
    add(Role::Day, "/patient/birthDate", pid, 7, birth);
    readSex(pid);
  }

  /// HL7 table 0001; A (ambiguous) and N (not applicable) are other.
  void readSex(const Segment& pid) {
    static constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kWords{
        {{"F", "female"},
         {"M", "male"},
         {"O", "other"},
         {"A", "other"},
         {"N", "other"},
         {"U", "unknown"}}};
    const std::string_view code = pid.field(8);
    const auto found = std::find_if(kWords.begin(), kWords.end(),
                                    [code](const auto& row) { return row.first == code; });
    add(Role::Text, "/patient/gender", pid, 8, found == kWords.end() ? code : found->second);
  }

  void readOrder() {
    const Segment& order = *group_.order;
    const Segment* common = group_.common;
    const bool own = !order.field(3).empty() || common == nullptr;
    identifier(own ? order : *common, 3, "/identifier", "/assessments");
    const bool placed = !order.field(2).empty() || common == nullptr;
    identifier(placed ? order : *common, 2, "/order/identifier", "/orders");
    const Stamped measured = measuredIn(group_, context_);
    moment("/measuredAt", *measured.segment, measured.field);
    const Segment* changed = changedLast(group_, context_);
    moment("/issuedAt", changed == nullptr ? order : *changed, 22);
    if (!out_.withdrawn) checkTimes(group_, context_, out_.issues);
  }

  void moment(std::string_view pointer, const Segment& segment, std::size_t field) {
    const std::string_view zone = zoneOf(group_.header->field(7));
    add(Role::Moment, pointer, segment, field,
        momentOf(part(segment.field(field), component(), 1), zone));
  }

  /// The first OBX that has this field.
  const Segment* firstResult(std::size_t field) const {
    const auto found =
        std::find_if(group_.rest.begin(), group_.rest.end(), [field](const Segment* segment) {
          return segment->name == "OBX" && !segment->field(field).empty();
        });
    return found == group_.rest.end() ? nullptr : *found;
  }

  void person(const Segment& segment, std::size_t field, std::string_view raw, char mark,
              std::string_view authority, char below) {
    const std::string_view given = part(raw, mark, 3);
    const std::string_view family = part(part(raw, mark, 2), sub(), 1);
    add(Role::Text, "/performer/name", segment, field, joined(given, family, " "));
    number("/performer/identifier", "/staff", segment, field, part(raw, mark, 1), authority, below);
  }

  /// The responsible observer of the first result that names one, else the principal interpreter.
  void readPerformer() {
    const char repetition = context_.message.marks.repetition;
    if (const Segment* result = firstResult(16)) {
      const std::string_view raw = part(result->field(16), repetition, 1);
      person(*result, 16, raw, component(), part(raw, component(), 9), sub());
    } else if (group_.order != nullptr && !group_.order->field(32).empty()) {
      const std::string_view raw = part(group_.order->field(32), component(), 1);
      person(*group_.order, 32, raw, sub(), part(raw, sub(), 9), component());
    }
  }

  /// The performing organisation of the first result that names one, else the sending facility
  /// unless the map states another.
  void readOrganization() {
    if (const Segment* result = firstResult(23)) {
      const std::string_view raw = result->field(23);
      add(Role::Text, "/organization/name", *result, 23, part(raw, component(), 1));
      number("/organization/identifier", "/sites", *result, 23, part(raw, component(), 10),
             part(raw, component(), 6), sub());
    } else if (context_.settings.map.defaults.member("organization") == nullptr) {
      add(Role::Text, "/organization/name", *group_.header, 4,
          part(group_.header->field(4), component(), 1));
    }
  }

  void readVisitTexts() {
    const Segment* before = nullptr;
    for (const Segment* segment : group_.rest) {
      const bool note = segment->name == "NTE" && before != nullptr && before->name == "OBR";
      if (note) add(Role::Text, "/note", *segment, 3, segment->field(3));
      if (segment->name == "OBX" && ofTheVisit(*segment, context_)) {
        std::string pointer = "/" + std::string(part(segment->field(3), component(), 1));
        std::replace(pointer.begin(), pointer.end(), '.', '/');
        add(Role::Text, pointer, *segment, 5, segment->field(5));
      }
      if (segment->name != "NTE") before = segment;
    }
  }

  void readState();
  std::string readOrders();
  void readResults(std::string& states);
  void revise();

  const Group& group_;
  const Context& context_;
  Cells out_;
};

/// OBX-11 of all results, one letter each; what it does to one reading is for result.cpp.
void Head::readResults(std::string& states) {
  for (const Segment* segment : group_.rest) {
    if (segment->name != "OBX") continue;
    const std::string_view status = segment->field(11);
    static constexpr std::string_view kTaken = "FCAPDWXN";
    if (status.size() == 1 && kTaken.find(status) != std::string_view::npos) {
      states += status;
    } else {
      context_.remark(out_.issues, "hl7-result-status", segment->place(11),
                      {{"value", shortened(printable(status), 20)}});
    }
  }
}

/// OBR-25 of all orders, one letter each; "" if there is one that cannot be filed.
std::string Head::readOrders() {
  std::string out;
  bool good = true;
  for (const Segment* segment : group_.rest) {
    if (segment->name != "OBR") continue;
    const std::string_view status = segment->field(25);
    if (csv::filed(status)) {
      out += status;
    } else {
      good = false;
      context_.remark(out_.issues, "hl7-report-status", segment->place(25),
                      {{"value", shortened(printable(status), 20)}});
    }
  }
  return good ? out : std::string{};
}

/// Status and revision of the whole: OBR-25 by HL7 table 0123, and what the results say.
void Head::readState() {
  if (group_.order == nullptr) return context_.remark(out_.issues, "hl7-no-order", "OBR[1]-3");
  const std::string place = group_.order->place(25);
  const std::string orders = readOrders();
  std::string results;
  readResults(results);
  const auto state = csv::stateOf(orders, results, context_.settings.map.messages->revisions);
  if (!state) return;
  out_.withdrawn = state->withdrawn;
  if (state->timed) revise();
  out_.add(Role::Text, "/status", std::string(state->status), place);
  if (state->withdrawn) {
    out_.add(Role::Text, "/note", "Withdrawn by the sender (OBR-25 or OBX-11).", place);
  } else if (state->status == "corrected") {
    context_.remark(out_.issues, "hl7-correction-whole", place);
  }
}

/// The revision of the whole, by the time of its status.
void Head::revise() {
  const Segment* changed = changedLast(group_, context_);
  const Segment& from = changed != nullptr ? *changed : *group_.header;
  const std::size_t field = changed != nullptr ? 22 : 7;
  const std::string_view stamp = part(from.field(field), component(), 1);
  std::string_view zone = zoneOf(stamp);
  if (zone.empty()) zone = zoneOf(group_.header->field(7));
  const auto moment = parseInstant(momentOf(stamp, zone.empty() ? "+0000" : zone));
  if (const auto revision = moment ? csv::revisionAt(*moment) : std::nullopt) {
    out_.add(Role::Whole, "/revision", *revision, from.place(field));
  } else {
    context_.remark(out_.issues, "hl7-time", from.place(field),
                    {{"value", shortened(printable(stamp), 40)}});
  }
}

}  // namespace

std::string Context::text(std::string_view raw, const std::string& place, Issues& issues) const {
  if (raw == "\"\"") return {};
  Unescaped out = unescaped(raw, message.marks, message.charset);
  if (!out.unknown.empty()) {
    remark(issues, "hl7-escape", place, {{"value", shortened(printable(out.unknown), 40)}});
  }
  return std::string(trimmed(out.text));
}

Cells headOf(const Group& group, const Context& context) { return Head(group, context).read(); }

bool ofTheVisit(const Segment& result, const Context& context) {
  const char mark = context.message.marks.component;
  const std::string_view code = part(result.field(3), mark, 1);
  return part(result.field(3), mark, 3) == kOwnCodes &&
         std::find(kVisitTexts.begin(), kVisitTexts.end(), code) != kVisitTexts.end();
}

std::string_view zoneOf(std::string_view stamp) {
  const std::size_t sign = stamp.find_first_of("+-");
  return sign == std::string_view::npos ? std::string_view{} : stamp.substr(sign, 5);
}

std::string momentOf(std::string_view stamp, std::string_view zone) {
  const std::string_view own = zoneOf(stamp);
  std::string_view rest = stamp.substr(0, stamp.size() - own.size());
  rest = rest.substr(0, rest.find('.'));
  const bool good = digits(rest) && (rest.size() == 8 || rest.size() == 12 || rest.size() == 14);
  if (!good) return std::string(stamp);
  std::string out(rest.substr(0, 4));
  ((out += '-') += rest.substr(4, 2)) += '-';
  out += rest.substr(6, 2);
  if (rest.size() == 8) return out;
  const std::string_view offset = own.empty() ? zone : own;
  const bool zoned = offset.size() == 5 && digits(offset.substr(1));
  out += zoned ? 'T' : ' ';
  ((out += rest.substr(8, 2)) += ':') += rest.substr(10, 2);
  (out += ':') += rest.size() == 14 ? rest.substr(12, 2) : std::string_view("00");
  if (zoned) ((out += offset.substr(0, 3)) += ':') += offset.substr(3, 2);
  return out;
}

}  // namespace footbridge::hl7
