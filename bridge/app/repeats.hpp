#pragma once
// One assessment twice in one run: an export that overlaps, a file given twice, a visit typed
// again.

#include <cstdint>
#include <deque>
#include <string_view>
#include <unordered_map>

#include "app/pipeline.hpp"

namespace footbridge::app {

/// Watches for an identifier and revision that come again. Remembers the last `kRemembered` only,
/// so that an input of any length is read in constant memory.
class Repeats {
 public:
  static constexpr std::size_t kRemembered = 65'536;

  explicit Repeats(const Tables& tables) : tables_(tables) {}

  /// Adds an error to the outcome if the same identifier and revision came before with another
  /// content, which of them is right being for the sender to say; a remark if it was the same.
  void note(const intake::Text& text, Outcome& outcome);

 private:
  void remember(std::uint64_t identity, std::uint64_t content);

  const Tables& tables_;
  std::unordered_map<std::uint64_t, std::uint64_t> contents_;
  std::deque<std::uint64_t> order_;
};

}  // namespace footbridge::app
