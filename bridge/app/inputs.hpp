#pragma once
// From files and standard input to outcomes, one at a time.

#include <functional>

#include "app/commands.hpp"
#include "app/pipeline.hpp"
#include "app/set_aside.hpp"

namespace footbridge::app {

/// What the walk over all inputs saw.
struct Tally {
  std::size_t accepted = 0;
  std::size_t setAside = 0;

  int exitCode() const { return setAside == 0 ? kWell : kSetAside; }
};

/// How the inputs come, for what is set aside of them.
inline InputForm formOf(const InputOptions& options) {
  return options.sourceMap ? InputForm::Tables : InputForm::Texts;
}

/// Runs the pipeline over every text of every input, in order, and hands each outcome over with the
/// text it came of. A file that cannot be opened is an outcome of its own, with the reason.
Tally forEachOutcome(const InputOptions& options, World& world,
                     const std::function<void(const intake::Text&, const Outcome&)>& use);

}  // namespace footbridge::app
