#include "hl7/group.hpp"

#include "core/text.hpp"

namespace footbridge::hl7 {
namespace {

/// Goes through the segments once.
class Cutter {
 public:
  explicit Cutter(const Message& message) : message_(message) {}

  std::vector<Group> cut() {
    for (std::size_t i = 1; i < message_.segments.size(); ++i) take(message_.segments[i]);
    endPatient();
    return std::move(out_);
  }

 private:
  void take(const Segment& segment) {
    if (segment.name == "PID") {
      endPatient();
      patient_ = &segment;
      visit_ = nullptr;
      common_ = nullptr;
      lead_ = {&segment};
    } else if (segment.name == "PV1") {
      visit_ = &segment;
      lead_.push_back(&segment);
    } else if (segment.name == "ORC") {
      common_ = &segment;
    } else if (segment.name == "OBR") {
      takeOrder(segment);
    } else if (current_.order != nullptr) {
      current_.all.push_back(&segment);
      const bool read = segment.name == "OBX" || segment.name == "NTE";
      if (read) current_.rest.push_back(&segment);
    } else if (patient_ != nullptr) {
      lead_.push_back(&segment);
    }
  }

  std::string_view filler(const Segment& order, const Segment* common) const {
    const std::string_view own = order.field(3);
    return own.empty() && common != nullptr ? common->field(3) : own;
  }

  void takeOrder(const Segment& segment) {
    const bool same = current_.order != nullptr && !filler(segment, common_).empty() &&
                      filler(segment, common_) == filler(*current_.order, current_.common);
    if (!same) {
      endOrder();
      begin();
      current_.common = common_;
      current_.order = &segment;
    }
    if (common_ != nullptr) current_.all.push_back(common_);
    common_ = nullptr;
    current_.all.push_back(&segment);
    current_.rest.push_back(&segment);
    served_ = true;
  }

  /// Ends the assessment.
  void endOrder() {
    if (current_.order != nullptr) out_.push_back(current_);
    current_ = {};
  }

  /// The same where a patient ends; one without any order is an assessment too, so that it is not
  /// lost.
  void endPatient() {
    endOrder();
    if (patient_ != nullptr && !served_) {
      begin();
      out_.push_back(current_);
    }
    current_ = {};
    served_ = false;
  }

  void begin() {
    current_ = {};
    current_.header = message_.header();
    current_.patient = patient_;
    current_.visit = visit_;
    current_.all = lead_;
  }

  const Message& message_;
  std::vector<Group> out_;
  Group current_;
  const Segment* patient_ = nullptr;
  const Segment* visit_ = nullptr;
  const Segment* common_ = nullptr;
  std::vector<const Segment*> lead_;  ///< PID and what stands before the first order
  bool served_ = false;
};

void require(bool good, std::string_view rule, std::size_t field, const Message& message,
             const Tables& tables, Issues& issues) {
  if (good) return;
  const Segment& header = *message.header();
  issues.push_back(issue(tables.rule(rule), header.place(field),
                         {{"value", shortened(printable(header.field(field)), 40)}}));
}

}  // namespace

std::vector<Group> groupsOf(const Message& message) {
  if (message.segments.empty()) return {};
  return Cutter(message).cut();
}

void checkHeader(const Message& message, const Tables& tables, Issues& issues) {
  if (message.header() == nullptr) return;
  const Segment& header = *message.header();
  const char mark = message.marks.component;
  const bool known =
      part(header.field(9), mark, 1) == "ORU" && part(header.field(9), mark, 2) == "R01";
  const std::string_view version = part(header.field(12), mark, 1);
  const std::string_view mode = part(header.field(11), mark, 1);
  require(known, "hl7-event", 9, message, tables, issues);
  require(version.starts_with("2."), "hl7-version", 12, message, tables, issues);
  require(mode == "P", "hl7-processing", 11, message, tables, issues);
  require(!header.field(10).empty(), "hl7-control-id", 10, message, tables, issues);
}

void checkWhole(const Message& message, const Tables& tables, Issues& issues) {
  for (const Segment& segment : message.segments) {
    const std::size_t pointer = &segment == message.header() ? 14 : 1;
    const bool names = pointer == 14 || segment.name == "DSC";
    if (names && !segment.field(pointer).empty()) {
      issues.push_back(issue(tables.rule("hl7-continued"), segment.place(pointer),
                             {{"value", shortened(printable(segment.field(pointer)), 40)}}));
    }
    if (segment.name == "ADD") {
      issues.push_back(issue(tables.rule("hl7-addendum"), segment.place(1)));
    }
  }
}

}  // namespace footbridge::hl7
