#pragma once
// Reading the parts of a source map that several tables of it share.

#include <optional>
#include <span>
#include <string_view>
#include <utility>

#include "csv/places.hpp"
#include "csv/source_map.hpp"
#include "intake/node.hpp"

namespace footbridge::csv {

/// One of the texts allowed, as its value; an issue if it is none of them.
template <class T>
std::optional<T> choice(const intake::Node& parent, std::string_view name,
                        std::span<const std::pair<std::string_view, T>> allowed) {
  const std::optional<intake::Node> node = parent.find(name);
  const std::optional<std::string> text = node ? node->text(100) : std::nullopt;
  if (!text) return std::nullopt;
  std::string known;
  for (const auto& [word, value] : allowed) {
    if (word == *text) return value;
    known += (known.empty() ? "" : ", ") + std::string(word);
  }
  node->remark("intake-word", {{"value", *text}, {"label", name}, {"words", known}});
  return std::nullopt;
}

/// The words for one item, each held against what the item can hold; `item` is nothing for words
/// that serve all columns. `sexes` and the like are held against `allowed`.
Words readWords(const intake::Node& node, std::optional<Item> item,
                std::span<const std::string_view> allowed);

/// The value of a column or of a reading's name: a path, or a table with `to` and more.
std::optional<Target> readTarget(const intake::Node& node, const Places& places,
                                 const SourceMap& map);

/// The pattern of a member `date`; an issue if it is none.
std::optional<DatePattern> readPattern(const intake::Node& parent);

/// Where identifiers of a kind are named below the map's base: "/patients" of
/// "/patient/identifiers"; "" for no place of identifiers.
std::string_view systemBelow(std::string_view pointer);

/// The words of a Role::Word target by its pointer: genders or states.
std::span<const std::string_view> allowedWords(std::string_view pointer);

}  // namespace footbridge::csv
