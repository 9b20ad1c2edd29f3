// Whether a trail is as it was written.

#include <algorithm>
#include <charconv>

#include "serve/trail.hpp"

namespace footbridge::serve {
namespace {

class Check {
 public:
  Check(const KeyedHash& hash, std::uint64_t from) : hash_(hash), from_(from) {}

  void take(const TrailText& text) {
    const std::optional<TrailLine> line = partsOf(text.text);
    out_.torn = !text.whole;
    if (!line) {
      broken(text, "This is no line of the trail.");
      ++expected_;
      return;
    }
    noteOrder(text, *line);
    if (followsFrom(text, *line)) noteRemoval(*line);
    before_ = line->chain;
    out_.lines = std::max(out_.lines, line->number);
    out_.chain = line->chain;
    expected_ = line->number + 1;
    sound_ = true;
  }

  TrailReport finish(const std::filesystem::path& file) && {
    if (missing_ > std::max(from_ - 1, removed_)) {
      fault("", "Lines 1 to " + std::to_string(missing_) + " are not here.",
            "If their files were moved away, say so with --from " + std::to_string(missing_ + 1) +
                ". Otherwise find out who removed them.");
    }
    std::error_code ignored;
    if (!std::filesystem::exists(file, ignored)) {
      fault(file.filename().string(), "The newest file of the trail is missing.",
            "Find out who removed it. The service begins a new one when it starts.");
    }
    return std::move(out_);
  }

 private:
  /// Whether a line stands where it belongs.
  void noteOrder(const TrailText& text, const TrailLine& line) {
    gap_ = line.number != expected_;
    if (out_.first == 0) {
      out_.first = line.number;
      const bool later = gap_ && text.row == 1 && !line.before.empty();
      if (later) missing_ = line.number - 1;
      if (later || !gap_) return;
    }
    if (line.number > expected_) {
      const std::string last = std::to_string(line.number - 1);
      broken(text, "Lines " + std::to_string(expected_) + " to " + last +
                       " are missing: the file before is cut short, or a file is not here.");
    } else if (gap_) {
      broken(text, "The number is " + std::to_string(line.number) + " instead of " +
                       std::to_string(expected_) + ": lines were put in or exchanged.");
    }
  }

  /// Whether a line is as it was written.
  bool followsFrom(const TrailText& text, const TrailLine& line) {
    const bool own = !line.before.empty();
    if (own && sound_ && !gap_ && line.before != before_) {
      broken(text, "The file does not go on where the one before it ended.");
    }
    // After a gap only what a line says of the one before it can be checked.
    if (gap_ && !own) return false;
    if (trailChain(hash_, own ? line.before : before_, line.body) == line.chain) return true;
    broken(text, "The line, or one before it, is not as it was.");
    return false;
  }

  /// A removal that the service noted itself excuses the lines that are not here.
  void noteRemoval(const TrailLine& line) {
    const std::string mark = R"("who":"service","what":")" + std::string(kTrailRemoved) +
                             R"(","about":")" + std::string(kTrailRemovedTo);
    const std::size_t at = line.body.find(mark);
    if (at == std::string_view::npos) return;
    const std::string_view digits = line.body.substr(at + mark.size());
    std::uint64_t to = 0;
    std::from_chars(digits.data(), digits.data() + digits.size(), to);
    removed_ = std::max(removed_, to);
  }

  void broken(const TrailText& text, std::string what) {
    fault(text.file.filename().string() + " line " + std::to_string(text.row), std::move(what),
          "Keep the files as they are and find out who could write to them.");
  }

  void fault(std::string place, std::string what, std::string mend) {
    out_.issues.push_back({Severity::Error, IssueType::Invariant, "trail", std::move(place),
                           std::move(what), std::move(mend)});
  }

  const KeyedHash& hash_;
  std::uint64_t from_;
  TrailReport out_;
  std::string before_;
  std::uint64_t expected_ = 1;
  std::uint64_t missing_ = 0;  ///< how many lines at the beginning are not here
  std::uint64_t removed_ = 0;  ///< how many of them were removed as configured
  bool gap_ = false;
  bool sound_ = false;  ///< there was a line before
};

}  // namespace

TrailReport verifyTrail(const std::filesystem::path& file, const KeyedHash& hash,
                        std::uint64_t from) {
  Check check(hash, from);
  const Issues unread = readTrail(file, 0, [&check](const TrailText& text) {
    check.take(text);
    return true;
  });
  TrailReport out = std::move(check).finish(file);
  out.issues.insert(out.issues.begin(), unread.begin(), unread.end());
  return out;
}

}  // namespace footbridge::serve
