#pragma once
// An assessment in the input format while it is put together from a resource.

#include <string>
#include <string_view>

#include "intake/texts.hpp"
#include "json/value.hpp"

namespace footbridge::fhir {

class Draft {
 public:
  explicit Draft(const Tables& tables);

  const Tables& tables() const { return tables_; }

  /// Puts a value there; what is said of it later is said of `place`.
  void put(std::string_view pointer, json::Value value, const std::string& place);

  /// The same of a text; nothing where it is empty.
  void putText(std::string_view pointer, std::string_view text, const std::string& place);

  /// Adds an element to the list there.
  void append(std::string_view pointer, json::Value value, const std::string& place);

  bool holds(std::string_view pointer) const;

  /// What is said of this part of the input format, is said of that place of the resource.
  void locate(std::string_view pointer, const std::string& place);

  /// Says what is wrong with the resource itself.
  void remark(std::string_view rule, std::string place, Arguments arguments = {});

  /// What was put together, of the resource that came as these bytes.
  intake::Text text(const std::string& name, std::string raw) const;

 private:
  const Tables& tables_;
  json::Value root_;
  Issues issues_;
  intake::Original original_;
};

}  // namespace footbridge::fhir
