#pragma once
// The resources of a bundle by what references call them.

#include <map>
#include <string>
#include <string_view>

#include "json/value.hpp"

namespace footbridge::fhir {

/// A resource and where it stands.
struct Entry {
  const json::Value* resource = nullptr;
  std::size_t number = 0;                  ///< of the entry, from 0
  const json::Value* container = nullptr;  ///< the resource that contains it, if one does
  std::string place;                       ///< "entry 3", for people
};

/// The bundle has to outlive it.
class Entries {
 public:
  explicit Entries(const json::Value& bundle);

  /// The resource that a reference means: by full URL, or by type and id; a version does not count.
  /// nullptr if it is not in the bundle.
  const json::Value* find(std::string_view reference) const;

  /// The resource of that id that another one of the bundle contains; nullptr if it does not.
  const json::Value* contained(const json::Value& outer, std::string_view id) const;

  /// The entry that holds the resource; nullptr if none does.
  const json::Value* entryOf(const json::Value& resource) const;

  /// The first Provenance in the bundle of that resource; nullptr if there is none.
  const json::Value* provenanceOf(const json::Value& resource) const;

  /// Of which patient in the bundle this is an identifier; nullptr if of none.
  const json::Value* patientOf(const json::Value& identifier) const;

 private:
  std::map<std::string, const json::Value*, std::less<>> byName_;
  std::map<std::string, const json::Value*, std::less<>> patients_;
  std::map<const json::Value*, const json::Value*> entries_;
  std::map<const json::Value*, const json::Value*> provenances_;
  std::map<std::pair<const json::Value*, std::string_view>, const json::Value*> contained_;
};

/// The resources of that type in a bundle, with those that reports contain.
std::vector<Entry> entriesOf(const json::Value& bundle, std::string_view type);

/// The identifier by which a conditional reference searches ("Patient?identifier=system%7Cvalue");
/// null for any other reference.
json::Value searchedBy(const json::Value& reference);

/// "system|value" of an Identifier, "" without a value.
std::string tokenOf(const json::Value& identifier);

}  // namespace footbridge::fhir
