#include "deliver/compare.hpp"

#include <algorithm>
#include <array>

#include "core/decimal.hpp"
#include "core/time.hpp"
#include "json/writer.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::array<std::string_view, 9> kObservation{
    "status",   "code",   "subject",           "effectiveDateTime", "dataAbsentReason",
    "bodySite", "method", "modifierExtension", "component"};
constexpr std::array<std::string_view, 6> kReport{
    "status", "code", "subject", "effectiveDateTime", "conclusion", "modifierExtension"};

/// What a person reads beside a code, and what a server keeps for itself: not compared.
constexpr std::array<std::string_view, 6> kAside{"display",   "text",         "id",
                                                 "extension", "userSelected", "version"};

bool aside(std::string_view name) {
  return std::find(kAside.begin(), kAside.end(), name) != kAside.end();
}

/// Members that change what is said wherever a server might add them.
bool telling(std::string_view name) {
  return name.starts_with("value") || name == "comparator" || name == "dataAbsentReason" ||
         name == "modifierExtension";
}

std::string written(const json::Value* value) {
  std::string out;
  if (value != nullptr) json::appendValue(out, *value);
  return out;
}

std::string below(const std::string& path, const std::string& name) {
  std::string out = path;
  (out += '.') += name;
  return out;
}

class Comparison {
 public:
  explicit Comparison(const SameReference& same) : same_(same) {}

  void member(const json::Value* sent, const json::Value* stored, const std::string& path) {
    if (sent == nullptr && stored == nullptr) return;
    if (sent == nullptr || stored == nullptr) return add(path, sent, stored);
    value(*sent, *stored, path);
  }

  std::vector<Difference> take() { return std::move(out_); }

 private:
  void add(const std::string& path, const json::Value* sent, const json::Value* stored) {
    out_.push_back({path, written(sent), written(stored)});
  }

  void value(const json::Value& sent, const json::Value& stored, const std::string& path) {
    if (sent.asObject() != nullptr && stored.asObject() != nullptr) {
      object(sent, stored, path);
    } else if (sent.asArray() != nullptr && stored.asArray() != nullptr) {
      list(*sent.asArray(), *stored.asArray(), path);
    } else if (!leaf(sent, stored, path)) {
      add(path, &sent, &stored);
    }
  }

  bool leaf(const json::Value& sent, const json::Value& stored, std::string_view path) const {
    if (written(&sent) == written(&stored)) return true;
    if (sent.asNumber() != nullptr && stored.asNumber() != nullptr) {
      const auto mine = Decimal::parse(sent.asNumber()->text);
      const auto theirs = Decimal::parse(stored.asNumber()->text);
      return mine && theirs && order(*mine, *theirs) == std::strong_ordering::equal;
    }
    if (sent.asString() == nullptr || stored.asString() == nullptr) return false;
    if (path.ends_with(".reference")) return same_(*sent.asString(), *stored.asString());
    if (!path.ends_with("DateTime")) return false;
    const auto mine = parseInstant(*sent.asString());
    const auto theirs = parseInstant(*stored.asString());
    return mine && theirs && mine->utc == theirs->utc;
  }

  void object(const json::Value& sent, const json::Value& stored, const std::string& path) {
    for (const auto& [name, mine] : *sent.asObject()) {
      const json::Value* theirs = stored.member(name);
      // Beside a code the words may be tidied; alone they are the content.
      if (aside(name) && sent.asObject()->size() > 1) continue;
      member(&mine, theirs, below(path, name));
    }
    for (const auto& [name, theirs] : *stored.asObject()) {
      if (telling(name) && sent.member(name) == nullptr) {
        add(below(path, name), nullptr, &theirs);
      }
    }
  }

  /// Each element that was sent has to be among those stored; codings may be added, parts of a
  /// reading may not.
  void list(const json::Array& sent, const json::Array& stored, const std::string& path) {
    for (std::size_t i = 0; i < sent.size(); ++i) {
      const bool there = std::any_of(stored.begin(), stored.end(), [&](const json::Value& each) {
        Comparison trial(same_);
        trial.value(sent[i], each, path);
        return trial.out_.empty();
      });
      if (there) continue;
      const json::Value* beside = i < stored.size() ? &stored[i] : nullptr;
      add(path + "[" + std::to_string(i) + "]", &sent[i], beside);
    }
    const bool open = path.ends_with("coding");
    if (!open && stored.size() > sent.size()) add(path, nullptr, &stored.back());
  }

  const SameReference& same_;
  std::vector<Difference> out_;
};

/// The names that begin with "value" in either.
std::vector<std::string> valueNames(const json::Value& sent, const json::Value& stored) {
  std::vector<std::string> out;
  for (const json::Value* each : {&sent, &stored}) {
    if (each->asObject() == nullptr) continue;
    for (const auto& [name, value] : *each->asObject()) {
      const bool known = std::find(out.begin(), out.end(), name) != out.end();
      if (name.starts_with("value") && !known) out.push_back(name);
    }
  }
  return out;
}

}  // namespace

std::vector<std::string_view> comparedMembers(std::string_view resourceType) {
  if (resourceType == "Observation") return {kObservation.begin(), kObservation.end()};
  if (resourceType == "DiagnosticReport") return {kReport.begin(), kReport.end()};
  return {};
}

std::vector<Difference> compare(const json::Value& sent, const json::Value& stored,
                                const SameReference& same) {
  Comparison out(same);
  const std::string type(sent.text("resourceType"));
  out.member(sent.member("resourceType"), stored.member("resourceType"), "resourceType");
  for (const std::string_view name : comparedMembers(type)) {
    out.member(sent.member(name), stored.member(name), std::string(name));
  }
  if (type == "Observation") {
    for (const std::string& name : valueNames(sent, stored)) {
      out.member(sent.member(name), stored.member(name), name);
    }
  }
  return out.take();
}

}  // namespace footbridge::deliver
