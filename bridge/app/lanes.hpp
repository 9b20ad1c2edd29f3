#pragma once
// Several texts at a time, and the results in the order of the input.

#include <functional>
#include <memory>
#include <string>

#include "app/pipeline.hpp"

namespace footbridge::app {

/// A text, what became of it, and what a worker made of that (a bundle, or nothing).
struct Done {
  intake::Text text;
  Outcome outcome;
  std::string made;
  std::size_t entries = 0;  ///< of the bundle that was made
};

/// What each thread does with a text. Called by one thread only; made once for each.
using Worker = std::function<void(Done&)>;

/// Runs texts through workers and hands each on, in the order in which they came, on the thread
/// that adds them. That thread is one of the workers: it works while there is no room for more. At
/// most a few texts for each worker are held at once, so that an input of any length is read in
/// constant memory.
class Lanes {
 public:
  Lanes(std::size_t workers, const std::function<Worker()>& makeWorker,
        std::function<void(Done&)> use);
  ~Lanes();
  Lanes(const Lanes&) = delete;
  Lanes& operator=(const Lanes&) = delete;

  /// Takes up a text. Waits while too many are under way.
  void add(intake::Text text);

  /// Hands on an outcome that is there already, in its place among the others.
  void addReady(Done done);

  /// Waits for all that is under way and hands it on.
  void finish();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::app
