#pragma once
// What the service says of itself: one JSON object a line, without patient data.

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <initializer_list>
#include <memory>
#include <string>
#include <string_view>
#include <utility>

namespace footbridge::serve {

enum class Level : std::uint8_t { Info, Warning, Error };

/// Writes to standard error, where a service manager collects it. By any thread.
class Journal {
 public:
  Journal();
  ~Journal();
  Journal(const Journal&) = delete;
  Journal& operator=(const Journal&) = delete;

  using Details = std::initializer_list<std::pair<std::string_view, std::string>>;

  /// `event` is a fixed word ("delivered", "alarm"). Details may hold rows, names from the
  /// configuration, counts and keyed hashes: nothing that came with an assessment.
  void write(Level level, std::string_view event, Details details = {});

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// The moment as it stands in journal and trail: "2026-03-01T10:15:00.123Z".
std::string stamp(std::chrono::system_clock::time_point at = std::chrono::system_clock::now());

}  // namespace footbridge::serve
