#include "tables/overlay.hpp"

#include <algorithm>

#include "core/digest.hpp"
#include "core/text.hpp"
#include "tables/fields.hpp"

namespace footbridge {
namespace {

using tables::Fields;

/// The codings that a row of the file has for one concept.
struct Layer {
  std::size_t at = 0;  ///< of the concept
  bool replaces = false;
  std::vector<Coding> codings;
};

class Reader {
 public:
  Reader(const Tables& tables, const std::string& name, Issues& issues)
      : tables_(tables), name_(name), issues_(issues) {}

  std::vector<Layer> read(const json::Value& file) {
    std::vector<Layer> out;
    Fields whole(file, name_, issues_);
    const json::Array& rows = whole.list("rows");
    if (rows.empty()) whole.fault("rows", "is missing or empty: nothing would be laid over");
    for (const json::Value& row : rows) {
      Fields fields(row, name_ + " " + printable(row.text("concept")), issues_);
      if (std::optional<Layer> layer = readRow(fields)) out.push_back(*std::move(layer));
    }
    return out;
  }

 private:
  std::optional<Layer> readRow(Fields& row) {
    const std::string id = row.text("concept");
    const Concept* found = tables_.concept_(id);
    const std::string mode = row.text("mode");
    if (mode != "add" && mode != "replace") row.fault("mode", "is not one of add, replace");
    if (row.list("codings").empty()) row.fault("codings", "is missing or empty");
    if (found == nullptr) {
      row.fault("concept", "is none of the catalogue" + nearestConcept(id));
      return std::nullopt;
    }
    Layer out{static_cast<std::size_t>(found - tables_.concepts.data()), mode == "replace", {}};
    for (const json::Value& element : row.list("codings")) {
      out.codings.push_back(readCoding(row.inner(element, "coding"), id));
    }
    return out;
  }

  Coding readCoding(Fields row, std::string_view id) {
    Coding out;
    out.system = row.text("system");
    out.code = row.text("code");
    out.display = row.optionalText("display");
    const std::string status = row.text("status");
    if (status != "verified" && status != "unverified") {
      row.fault("status", "is not one of verified, unverified; only a verified coding is sent");
    }
    out.verified = status == "verified";
    out.source = row.text("source");
    out.origin = name_;
    row.refuseOthers({"system", "code", "display", "status", "source"});
    if (tables_.reservedFor(id, out.system, out.code)) {
      row.fault("code",
                "would be taken for a blood pressure or heart rate of the patient, which this is "
                "not");
    }
    return out;
  }

  std::string nearestConcept(std::string_view id) const {
    std::vector<std::string> ids;
    for (const Concept& row : tables_.concepts) ids.push_back(row.id);
    const std::string_view close = nearest(id, ids);
    return close.empty() ? "" : "; did you mean " + std::string(close) + "?";
  }

  const Tables& tables_;
  std::string name_;
  Issues& issues_;
};

void apply(Concept& row, Layer layer) {
  for (Coding& coding : row.codings) {
    if (!layer.replaces) break;
    coding.verified = false;
    coding.source += "; replaced by " + layer.codings.front().origin;
  }
  for (Coding& coding : layer.codings) {
    const auto same = [&coding](const Coding& other) {
      return other.system == coding.system && other.code == coding.code;
    };
    const auto found = std::find_if(row.codings.begin(), row.codings.end(), same);
    if (found != row.codings.end()) {
      *found = std::move(coding);
    } else {
      row.codings.push_back(std::move(coding));
    }
  }
}

}  // namespace

Issues layOver(Tables& tables, std::string_view bytes, const std::string& name) {
  Issues issues;
  const tables::Files files{{name, std::string(bytes)}};
  const json::Value file = tables::parseFile(files, name, issues);
  if (!issues.empty()) return issues;
  std::vector<Layer> layers = Reader(tables, name, issues).read(file);
  if (!issues.empty()) return issues;
  for (Layer& layer : layers) {
    Concept& row = tables.concepts[layer.at];
    apply(row, std::move(layer));
  }
  tables.digest = sha256(tables.digest + ' ' + sha256(bytes));
  return {};
}

}  // namespace footbridge
