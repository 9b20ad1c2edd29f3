#pragma once
// The files that a trail consists of, and its lines as text. The one that is written to has the
// trail's own name; closed ones have the number of their first line in theirs:
// audit-000000000001.log, audit-000000208211.log, audit.log.

#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/result.hpp"

namespace footbridge::serve {

struct Access;

/// A keyed hash: 16 bytes that nobody makes without the key.
using KeyedHash = std::function<std::string(std::string_view)>;

/// A line taken apart; all of it points into the line.
struct TrailLine {
  std::string_view body;  ///< what is hashed
  std::string_view chain;
  std::string_view before;  ///< in the first line of a file: the chain of the last one before it
  std::string_view at;
  std::uint64_t number = 0;
};

/// Nothing if the line is none of ours.
std::optional<TrailLine> partsOf(std::string_view line);

/// The line without its chain. `before` is empty but in the first line of a file that continues
/// another.
std::string trailBody(const Access& access, std::uint64_t number, std::string_view before);

/// The chain of a line. `before` is empty for the very first.
std::string trailChain(const KeyedHash& hash, std::string_view before, std::string_view body);

/// Body and chain as one line with its end.
std::string trailLine(std::string_view body, std::string_view chain);

/// A file of the trail that is not written to any more.
struct ClosedPart {
  std::filesystem::path path;
  std::uint64_t first = 0;  ///< number of its first line, by its name
};

/// The closed files beside that one, in their order.
std::vector<ClosedPart> closedParts(const std::filesystem::path& file);

std::filesystem::path closedName(const std::filesystem::path& file, std::uint64_t first);

/// The end of a file, as far as it takes to see its last line and the one before.
struct TrailTail {
  std::string last;         ///< empty: there is no whole line
  std::string previous;     ///< empty: there is one line only
  std::uint64_t whole = 0;  ///< bytes up to the end of the last whole line
  std::uint64_t size = 0;   ///< bytes of the file
};

/// An issue of type NotFound if it cannot be read; a file that is not there has no lines.
Result<TrailTail> tailOf(const std::filesystem::path& file);

/// The first line of a file, empty if it has none.
std::string headOf(const std::filesystem::path& file);

/// A line as it stands in a file. The last one may lack its end.
struct TrailText {
  const std::filesystem::path& file;
  std::uint64_t row;     ///< in that file, from 1
  std::uint64_t number;  ///< as it ought to be, by the name of the file
  std::string_view text;
  bool whole;
};

/// Gives all lines of all files in their order, of those files that hold lines after that number,
/// until `take` says false. May be called while a service writes and turns over files: no line is
/// given twice or left out.
Issues readTrail(const std::filesystem::path& file, std::uint64_t after,
                 const std::function<bool(const TrailText&)>& take);

}  // namespace footbridge::serve
