#include "intake/assessment_reader.hpp"

#include <algorithm>

#include "core/digest.hpp"
#include "core/text.hpp"
#include "intake/head.hpp"
#include "intake/reading.hpp"

namespace footbridge::intake {

/// The tree of names below the root: the paths of all items, taken apart.
struct AssessmentReader::Shape {
  std::vector<std::string> names;  ///< of the children, in order
  std::vector<Shape> children;
  std::optional<Item> item;
  Side side = Side::None;
  bool room = false;      ///< conditions.room: a text, not a reading
  bool previous = false;  ///< previous.measuredOn: the date of the earlier figures

  Shape& at(const std::string& name) {
    const auto found = std::find(names.begin(), names.end(), name);
    if (found != names.end()) return children[static_cast<std::size_t>(found - names.begin())];
    names.push_back(name);
    return children.emplace_back();
  }

  Shape& path(std::string_view pointer) {
    Shape* node = this;
    while (!pointer.empty()) {
      pointer.remove_prefix(1);
      const std::size_t end = std::min(pointer.find('/'), pointer.size());
      node = &node->at(std::string(pointer.substr(0, end)));
      pointer.remove_prefix(end);
    }
    return *node;
  }

  void add(const Tables& tables, Item which, Side on) {
    Shape& leaf = path(tables.place(which, on));
    leaf.item = which;
    leaf.side = on;
  }

  void walk(const Node& node, Assessment& out) const;
};

void AssessmentReader::Shape::walk(const Node& node, Assessment& out) const {
  if (item) {
    std::optional<Reading> reading = readReading(node, node.context().tables.row(*item), side);
    if (reading) out.readings.push_back(*std::move(reading));
    return;
  }
  if (room) {
    out.room = node.text(4000).value_or("");
    return;
  }
  if (previous) {
    out.previousOn = node.date();
    return;
  }
  if (!node.isObject()) return;
  const std::vector<const json::Value*> members = node.membersBy(names);
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (members[i] != nullptr) children[i].walk(node.named(*members[i], names[i]), out);
  }
}

AssessmentReader::AssessmentReader(const Tables& tables) : tables_(tables) {
  Shape root;
  for (const ItemRow& row : tables.items) {
    if (!row.sided) root.add(tables, row.item, Side::None);
    for (const Side side : kSides) {
      if (row.sided) root.add(tables, row.item, side);
    }
  }
  root.path("/conditions/room").room = true;
  root.path("/previous/measuredOn").previous = true;
  names_.assign(headMembers().begin(), headMembers().end());
  names_.insert(names_.end(), root.names.begin(), root.names.end());
  shape_ = std::make_unique<const Shape>(std::move(root));
}

AssessmentReader::~AssessmentReader() = default;

Intake AssessmentReader::read(std::string_view bytes) const {
  Intake out;
  Result<json::Value> value = json::read(bytes);
  if (!value) {
    out.issues = std::move(value).issues();
    return out;
  }
  const Node root({tables_, out.issues}, *value);
  if (root.value().asObject() == nullptr) {
    root.remark(
        "intake-type",
        {{"label", "An assessment"}, {"wanted", "an object"}, {"found", root.value().typeName()}});
    return out;
  }
  const bool resource = value->member("format") == nullptr && !value->text("resourceType").empty();
  if (resource) {
    root.remark("intake-resource",
                {{"type", printable(shortened(value->text("resourceType"), 60))}});
    return out;
  }
  readHead(root, out.assessment);
  out.headRead = !blocking(out.issues);
  const std::vector<const json::Value*> members = root.membersBy(names_);
  for (std::size_t i = 0; i < shape_->names.size(); ++i) {
    const json::Value* child = members[headMembers().size() + i];
    if (child == nullptr) continue;
    shape_->children[i].walk(root.named(*child, shape_->names[i]), out.assessment);
  }
  // A change means nothing without the time it took.
  if (const auto previous = root.find("previous"); previous && previous->value().asObject()) {
    previous->child("measuredOn");
  }
  sortReadings(out.assessment);
  out.assessment.sourceDigest = sha256(bytes);
  return out;
}

}  // namespace footbridge::intake
