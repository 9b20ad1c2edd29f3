#pragma once
// Assessments stored as they came, with what else is needed to make the same bundle of them again:
// a hundredth of its bytes, so that taking one in costs the disk and the processor little.

#include <memory>
#include <string>
#include <string_view>

#include "app/pipeline.hpp"
#include "package/options.hpp"

namespace footbridge::app {

/// What is stored in place of the bundle that this program makes of the text at that moment with
/// those options.
std::string recipeOf(std::string_view text, const Instant& now,
                     const package::BundleOptions& options, const Tables& tables);

/// Makes bundles of recipes. By any thread.
class Unfolder {
 public:
  Unfolder(const Tables& tables, std::string version);
  ~Unfolder();
  Unfolder(const Unfolder&) = delete;
  Unfolder& operator=(const Unfolder&) = delete;

  /// The bundle of a recipe; anything else is given back as it is. With a note if the recipe was
  /// written by another version or with other tables: the bundle is then as this program makes it,
  /// and may not be the one that was made before. BusinessRule if this one refuses the text.
  Result<std::string> unfold(std::string stored) const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::app
