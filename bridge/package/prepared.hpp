#pragma once
// The constant parts of resources, made once when the program starts: writing one assessment is
// then joining these pieces and putting its own values between them.

#include <array>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "tables/tables.hpp"

namespace footbridge::package {

/// What never changes in the Observation of one item or index on one side.
struct Pieces {
  std::string code;      ///< "category" and "code" members
  std::string bodySite;  ///< ,"bodySite":{...} or ""
  std::string method;    ///< ,"method":{...} or ""
};

class Prepared {
 public:
  explicit Prepared(const Tables& tables);

  /// The CodeableConcept of a concept: verified standard codings first, our own code last, text.
  std::string_view codeable(std::string_view conceptId) const;

  /// The valueCodeableConcept's concept of an item's word.
  std::string_view wordConcept(const ItemRow& row, std::string_view word) const;

  const Pieces& item(Item item, Side side) const;
  const Pieces& index(IndexKind kind, Side side) const;

  /// {"coding":[...]} of a data-absent-reason without its closing brace, so that a text can follow.
  std::string_view absence(AbsentReason reason) const {
    return absences_[static_cast<std::size_t>(reason)];
  }

  const std::string& examCategory() const { return examCategory_; }
  const std::string& system() const { return system_; }  ///< of our own CodeSystem, JSON text

 private:
  std::string makeCodeable(const Concept& row) const;
  void prepareItems(const Tables& tables);
  void prepareIndices(const Tables& tables);

  const Tables& tables_;
  std::string system_;
  std::string examCategory_;
  std::map<std::string, std::string, std::less<>> codeables_;
  std::vector<std::array<Pieces, 3>> items_;
  std::vector<std::array<Pieces, 3>> indices_;
  std::array<std::string, 15> absences_;
};

/// The canonical address of our own CodeSystem.
std::string codeSystemUrl(const Tables& tables);

}  // namespace footbridge::package
