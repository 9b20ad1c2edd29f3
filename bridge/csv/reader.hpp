#pragma once
// A clinic's table as assessments, one after another.

#include <cstdint>
#include <iosfwd>
#include <memory>
#include <optional>
#include <string>

#include "csv/source_map.hpp"
#include "intake/texts.hpp"

namespace footbridge::csv {

/// Yields the assessments of one file in order, in the memory of one visit. Where a row is one
/// reading the file is read twice, so that a visit whose rows stand apart is set aside whole; some
/// 50 bytes are kept for each visit, and an input that cannot be read twice (a pipe) is held, up to
/// kHeldLimit.
class Reader {
 public:
  static constexpr std::size_t kHeldLimit = 64U << 20U;
  /// The most rows that one visit may have.
  static constexpr std::size_t kVisitLimit = 1000;

  /// Map and tables have to outlive the reader; the texts it yields stand alone.
  Reader(std::istream& in, std::string name, const SourceMap& map, const Tables& tables);
  ~Reader();
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;

  /// The next assessment, or the reason why the file or some rows of it cannot be read.
  std::optional<intake::Text> next();

  /// What there is to say of the file as a whole; complete after the first next().
  const Issues& notices() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::csv
