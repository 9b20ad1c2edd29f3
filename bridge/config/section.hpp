#pragma once
// One table of a TOML file while it is read. Knows which keys were asked for, so that all others
// can be refused.

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/result.hpp"
#include "json/value.hpp"

namespace footbridge::config {

/// Reads keys; a missing key is nothing, a key of the wrong type is an issue.
class Section {
 public:
  Section(const json::Value& table, std::string place, Issues& issues)
      : table_(table), place_(std::move(place)), issues_(issues) {}

  std::optional<std::string> text(std::string_view key);
  std::optional<bool> flag(std::string_view key);
  std::optional<std::int64_t> whole(std::string_view key, std::int64_t least, std::int64_t most);
  std::vector<std::int64_t> wholes(std::string_view key, std::int64_t least, std::int64_t most);

  /// A list of texts; empty if there is none.
  std::vector<std::string> texts(std::string_view key);

  /// A path, relative to the folder if it is not absolute.
  std::optional<std::filesystem::path> path(std::string_view key,
                                            const std::filesystem::path& folder);

  /// The same of a file that must be there; what is in it is not looked at. Empty for none.
  std::filesystem::path file(std::string_view key, const std::filesystem::path& folder);

  /// The same of a file that nobody but its owner may use.
  std::filesystem::path secret(std::string_view key, const std::filesystem::path& folder);

  /// One of the words, as its place among them.
  std::optional<std::size_t> choice(std::string_view key, const std::vector<std::string>& words);

  /// The table of that key, empty if there is none.
  Section table(std::string_view key);

  /// The same place of the file with what a preset says where the table is silent; `merged` holds
  /// it and has to outlive the section.
  Section over(const json::Value& preset, json::Value& merged) const;

  /// The names of the tables below this one, in the order of the file.
  std::vector<std::string> tables() const;

  /// The names of all that are no tables, in the order of the file.
  std::vector<std::string> names() const;

  bool has(std::string_view key) const;

  /// Reports every key that was not asked for, with the nearest one that was.
  void refuseUnknown();

  void fault(std::string_view key, const std::string& text, const std::string& mend);

 private:
  void wrongType(std::string_view key, std::string_view wanted);

  const json::Value& table_;
  std::string place_;
  Issues& issues_;
  std::vector<std::string> asked_;
};

}  // namespace footbridge::config
