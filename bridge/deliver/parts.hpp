#pragma once
// A transaction of ours taken apart into its resources, so that they can be sent otherwise. Pure.

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "core/result.hpp"
#include "json/value.hpp"

namespace footbridge::deliver {

/// What the bundle wants of a resource.
enum class Wish : std::uint8_t {
  Create,  ///< make it unless one meets the condition
  Update,  ///< replace the one that meets the condition, or make it
  Replace  ///< replace this version at this place
};

struct Part {
  std::string name;  ///< fullUrl, "urn:uuid:..."
  std::string type;
  Wish wish = Wish::Create;
  std::string condition;           ///< "identifier=..."; "" for Replace
  std::string place;               ///< Replace: "Observation/12"
  std::string match;               ///< Replace: the version as an ETag
  std::string request;             ///< the entry's request, as JSON
  std::string resource;            ///< as JSON
  std::vector<std::string> needs;  ///< what it refers to: names of other parts, "Patient?..."
};

/// What a reference in the bundle is to become: "urn:uuid:..." to "Observation/12".
using References = std::map<std::string, std::string, std::less<>>;

/// The parts in the order of the bundle. An issue if it is no bundle, or if its resources refer to
/// each other in a circle, since then none can be the first.
Result<std::vector<Part>> partsOf(std::string_view bundle);

/// The resource with its references replaced, as far as they are known.
std::string withReferences(std::string_view resource, const References& known);

/// The resource with such an id in place of none or of its own.
std::string withId(std::string_view resource, std::string_view id);

/// True if a resource meets a condition of ours: it bears the identifier, or the tag. Some servers
/// ignore what they cannot search by and answer with everything.
bool meets(const json::Value& resource, std::string_view condition);

/// True for what several visits share and others keep, so that a visit never overwrites it: patient
/// and instruments.
bool isShared(std::string_view type);

/// "Observation/12" of "Observation/12/_history/3"; "" if it could not stand in an address.
std::string plainPlace(std::string_view location);

}  // namespace footbridge::deliver
