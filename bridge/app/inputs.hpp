#pragma once
// From files and standard input to outcomes, in the order of the input.

#include <functional>
#include <string>

#include "app/commands.hpp"
#include "app/lanes.hpp"
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
  if (options.from == "hl7v2") return InputForm::Messages;
  if (options.from == "form" || options.from == "fhir") return InputForm::Resources;
  return options.sourceMap ? InputForm::Tables : InputForm::Texts;
}

/// Runs the pipeline over every text of every input, `options.jobs` at a time, and hands the
/// results over in order, on the calling thread. A file that cannot be opened is an outcome of its
/// own, with the reason. With `bundle` the bundle of each outcome that was not refused is made as
/// well, on the thread that found it.
Tally forEachOutcome(const InputOptions& options, World& world,
                     const std::function<void(Done&)>& use,
                     const package::BundleOptions* bundle = nullptr);

}  // namespace footbridge::app
