#pragma once
// The constant parts of resources, made once when the program starts: writing one assessment is
// then joining these pieces and putting its own values between them.

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "package/options.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

/// What never changes in the Observation of one item or index on one side.
struct Pieces {
  std::string name;       ///< what its narrative begins with, escaped: "Toe pressure, right: "
  std::string code;       ///< "category" and "code" members
  std::string bodySite;   ///< ,"bodySite":{...} or ""
  std::string method;     ///< ,"method":{...} or ""
  std::string_view meta;  ///< ,"meta":{...} or ""
};

/// The kinds of resource that carry an identifier of ours.
enum class Resource : std::uint8_t { Observation, Device, DiagnosticReport };

/// What never changes around a resource of one kind.
struct Frame {
  std::string open;        ///< from the UUID of the entry to the type of the resource
  std::string narrative;   ///< from there, or from "meta", to the narrative
  std::string identifier;  ///< from the end of the narrative to the value of the identifier
  std::string create;      ///< from the end of the resource to the UUID of a conditional create
  std::string update;      ///< ... of a conditional update
};

/// What never changes in the answer to one published definition or figure.
struct CriterionPieces {
  std::string said;       ///< its name and a colon, as a narrative has them
  std::string noted;      ///< the same as a note has them
  std::string component;  ///< {"code":{...} of its component
};

class Prepared {
 public:
  Prepared(const Tables& tables, const BundleOptions& options);

  /// The CodeableConcept of a concept: verified standard codings first, our own code last, text.
  std::string_view codeable(RowId conceptId) const;

  /// The valueCodeableConcept's concept of an item's word.
  std::string_view wordConcept(const ItemRow& row, std::string_view word) const;

  const Pieces& item(Item item, Side side) const;
  const Pieces& index(IndexKind kind, Side side) const;

  /// {"coding":[...]} of a data-absent-reason without its closing brace, so that a text can follow.
  std::string_view absence(AbsentReason reason) const {
    return absences_[static_cast<std::size_t>(reason)];
  }

  const Frame& frame(Resource kind) const { return frames_[static_cast<std::size_t>(kind)]; }

  /// A row of the tables of definitions and criteria, by its id.
  const CriterionPieces& criterion(RowId id) const;

  /// "category" and "code" of an examination that is named by a concept of ours.
  std::string_view exam(RowId conceptId) const;

  /// The same for a vital sign.
  std::string vitalSign(RowId conceptId) const;

  /// ,"bodySite":{...} of a leg; "" without side.
  std::string_view leg(Side side) const { return legs_[static_cast<std::size_t>(side)]; }

  /// ,"meta":{"profile":[...]} of the resource whose code is this concept ("patient" and the like
  /// for those without); "" where nothing is claimed.
  std::string_view meta(RowId name) const;

  /// What the realm calls a unit; `usual` where it does not say.
  std::string_view unit(std::string_view ucum, std::string_view usual) const;

  const Realm& realm() const { return realm_; }

  const std::string& system() const { return system_; }  ///< of our own CodeSystem, JSON text

 private:
  /// Pieces to be found by the id of what they are for; the first of an id counts.
  template <class Content>
  class ById {
   public:
    void add(std::string_view id, Content content) {
      rows_.push_back({std::string(id), std::move(content)});
    }
    /// Once all are there.
    void index() { ids_.index(rows_); }
    const Content* find(RowId id) const {
      const Row* row = ids_.find(rows_, id);
      return row == nullptr ? nullptr : &row->content;
    }

   private:
    struct Row {
      std::string id;
      Content content;
    };
    std::vector<Row> rows_;
    Ids ids_;
  };
  using Texts = ById<std::string>;

  std::string makeCodeable(const Concept& row) const;
  void prepareConcepts(const Tables& tables);
  void prepareItems(const Tables& tables);
  void prepareIndices(const Tables& tables);
  void prepareFrames(const Tables& tables);
  void prepareMetas(Claims claims);
  void prepareMeta(std::string_view key, std::string_view name, std::string_view of, Claims claims);
  std::string_view claimOf(const Concept& row) const;
  void prepareCriteria(const Tables& tables);

  const Tables& tables_;
  const Realm& realm_;
  std::string system_;
  std::string examCategory_;
  Texts codeables_;
  Texts exams_;
  Texts metas_;
  ById<CriterionPieces> criteria_;
  std::vector<std::array<Pieces, 3>> items_;
  std::vector<std::array<Pieces, 3>> indices_;
  std::array<std::string, 15> absences_;
  std::array<Frame, 3> frames_;
  std::array<std::string, 3> legs_;
};

/// The realm of that name; base if there is none.
const Realm& realmOf(const Tables& tables, std::string_view id);

/// Where our own identifiers of a resource type live: <base>/id/observation.
std::string identifierSystem(const Tables& tables, std::string_view type);

/// The code under which a definition or criterion stands in our own CodeSystem.
std::string criterionCode(std::string_view scheme, std::string_view id);

/// The canonical address of our own CodeSystem.
std::string codeSystemUrl(const Tables& tables);

}  // namespace footbridge::package
