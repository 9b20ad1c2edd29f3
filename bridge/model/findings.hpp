#pragma once
// What Footbridge makes of an assessment: indices, grades and flags, each with what it rests on.

#include <algorithm>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/issue.hpp"
#include "core/ratio.hpp"
#include "model/assessment.hpp"
#include "model/items.hpp"

namespace footbridge {

/// A reading that was used.
struct ReadingRef {
  Item item{};
  Side side = Side::None;
  bool operator==(const ReadingRef&) const = default;
};

/// An index that was used.
struct IndexRef {
  IndexKind kind{};
  Side side = Side::None;
  bool operator==(const IndexRef&) const = default;
};

/// Appends those references that are not there yet.
template <class Ref>
void unite(std::vector<Ref>& all, const std::vector<Ref>& more) {
  for (const Ref& ref : more) {
    if (std::find(all.begin(), all.end(), ref) == all.end()) all.push_back(ref);
  }
}

/// A sentence that goes with a result. `rule` is the id of a row of mapping/rules.json, whose
/// sentence `text` is with its figures put in, and whose severity stands beside it.
struct Remark {
  std::string_view rule;
  std::string text;
  Severity severity = Severity::Information;
  bool operator==(const Remark&) const = default;
};

/// A ratio or difference, or the reason why there is none.
struct Index {
  IndexKind kind{};
  Side side = Side::None;
  std::optional<Ratio> ratio;                   ///< exact; ratios, and the part that fell away
  std::optional<std::int32_t> hundredths;       ///< the ratio rounded once, half up; what is graded
  std::optional<Pressure> difference;           ///< differences only; may be negative
  std::optional<std::int32_t> tenths;           ///< per cent, rounded half up; falls only
  AbsentReason reason = AbsentReason::Unknown;  ///< if there is no value
  std::string because;                          ///< if there is no value: a whole sentence
  std::string method;                           ///< how numerator and denominator were chosen
  std::vector<ReadingRef> inputs;
  std::vector<Remark> remarks;

  bool present() const { return hundredths || difference || tenths; }
  bool operator==(const Index&) const = default;
};

/// A class from a published scheme, or the reason why there is none.
///
/// `scheme` is the id of the thing graded and of its concept ("abi-band", "tbi-band",
/// "clti-criterion", "wifi-wound", "wifi-ischaemia", "wifi-infection", "wifi-stage",
/// "wifi-amputation-risk", "wifi-revascularisation-benefit", "waveform-class", "fontaine",
/// "rutherford", "compression-band", and the schemes of mapping/criteria.json). `outcome` is the id
/// of a concept of mapping/concepts.json, "" when it cannot be graded; then `because` says why. All
/// string_views point into the tables.
struct Grade {
  std::string_view scheme;
  std::string_view ruleSet;  ///< "acc-aha-2024", "tasc-2-rest-pain", "svs-wifi-2014"
  std::string_view rule;     ///< id of the table row that decided, "" if none did
  Side side = Side::None;
  std::optional<Item> item;  ///< waveform-class: the Doppler reading it is about
  std::string_view outcome;
  AbsentReason reason = AbsentReason::Unknown;  ///< if there is no outcome
  std::string because;                          ///< if there is no outcome: a whole sentence
  std::string_view source;
  std::string_view certainty;  ///< "verified", "secondary", "from memory", "our choice", ...
  std::vector<ReadingRef> inputs;
  std::vector<IndexRef> indices;
  std::vector<Remark> remarks;

  bool present() const { return !outcome.empty(); }
  bool operator==(const Grade&) const = default;
};

/// Something about the reliability or safety of what was read. `rule` is a row of
/// mapping/rules.json.
struct Flag {
  std::string_view rule;
  Side side = Side::None;
  std::string text;
  std::vector<ReadingRef> inputs;
  std::vector<IndexRef> indices;
  bool operator==(const Flag&) const = default;
};

struct Findings {
  std::vector<Index> indices;  ///< every kind on every side it applies to, present or not
  std::vector<Grade> grades;
  std::vector<Flag> flags;

  const Index* find(IndexKind kind, Side side) const;
  const Grade* find(std::string_view scheme, Side side, std::string_view ruleSet = {}) const;
  bool operator==(const Findings&) const = default;
};

/// True of a grade that answers a published threshold; those of one scheme and side are packaged
/// together.
bool isCriterion(const Grade& grade);

/// "0.90" from 90, "-0.15" from -15, "23.8" from 238.
std::string hundredthsText(std::int32_t hundredths);
std::string tenthsText(std::int32_t tenths);

}  // namespace footbridge
