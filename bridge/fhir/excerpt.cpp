#include "fhir/excerpt.hpp"

#include <set>
#include <utility>

#include "json/writer.hpp"

namespace footbridge::fhir {
namespace {

class Excerpt {
 public:
  explicit Excerpt(const Entries& entries) : entries_(entries) {}

  void take(const json::Value& resource) {
    open_.push_back(&resource);
    while (!open_.empty()) {
      const json::Value& next = *open_.back();
      open_.pop_back();
      if (!taken_.insert(&next).second) continue;
      follow(next);
      if (const json::Value* provenance = entries_.provenanceOf(next)) taken_.insert(provenance);
    }
  }

  /// In the order of the bundle, in which they stand beside each other.
  std::set<const json::Value*> taken() const {
    std::set<const json::Value*> out;
    for (const json::Value* resource : taken_) {
      if (const json::Value* entry = entries_.entryOf(*resource)) out.insert(entry);
    }
    return out;
  }

 private:
  /// No deeper than JSON is read.
  void follow(const json::Value& value) {
    if (const json::Array* list = value.asArray()) {
      for (const json::Value& each : *list) follow(each);
    }
    if (value.asObject() == nullptr) return;
    const json::Value* found = entries_.find(value.text("reference"));
    // Results of other assessments go their own way.
    if (found != nullptr && found->text("resourceType") != "Observation") open_.push_back(found);
    for (const auto& [name, member] : *value.asObject()) follow(member);
  }

  const Entries& entries_;
  std::set<const json::Value*> taken_;
  std::vector<const json::Value*> open_;
};

}  // namespace

std::string excerpt(const json::Value& bundle, const Gathered& group, const Entries& entries,
                    std::string_view bytes) {
  Excerpt own(entries);
  const auto outer = [](const Entry& entry) -> const json::Value& {
    return entry.container == nullptr ? *entry.resource : *entry.container;
  };
  if (group.report.resource != nullptr) own.take(outer(group.report));
  for (const Entry& entry : group.observations) own.take(outer(entry));
  std::string out;
  for (const auto& [name, value] : *bundle.asObject()) {
    if (name == "entry" || name == "total" || name == "signature") continue;
    out += out.empty() ? '{' : ',';
    json::appendQuoted(out, name);
    out += ':';
    json::appendValue(out, value);
  }
  out += ",\"entry\":[";
  char between = ' ';
  for (const json::Value* entry : own.taken()) {
    out += std::exchange(between, ',');
    out += bytes.substr(entry->span.begin, entry->span.end - entry->span.begin);
  }
  return out + "]}";
}

}  // namespace footbridge::fhir
