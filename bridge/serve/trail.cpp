#include "serve/trail.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>
#include <utility>

#include "core/digest.hpp"
#include "core/file.hpp"
#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::serve {
namespace {

constexpr std::string_view kChainMark = R"(,"chain":")";
constexpr std::size_t kChain = 32;  ///< hexadecimal digits
constexpr std::string_view kStart = "footbridge trail 1";

Issue cannot(std::string_view verb) {
  return {Severity::Fatal,
          IssueType::NoStore,
          "trail",
          "",
          "Cannot " + std::string(verb) +
              " the audit trail: " + std::generic_category().message(errno) + ".",
          "Without it nothing is served. Check the disk and the rights of the data folder."};
}

/// The line without its chain, as it is hashed.
std::string bodyOf(const Access& access, std::uint64_t number) {
  json::Writer out;
  out.beginObject().name("n").number(static_cast<long long>(number));
  out.member("at", access.at).member("who", access.who).member("from", access.from);
  out.member("what", access.what).member("about", access.about);
  out.name("outcome").number(access.outcome).member("request", access.request).endObject();
  std::string line(out.text());
  line.pop_back();
  return line;
}

std::string chained(const KeyedHash& hash, std::string_view before, std::string_view body) {
  return hex(hash(std::string(before) + "\n" + std::string(body)));
}

/// Body and chain of a line, or two empty texts if it is none of ours.
std::pair<std::string_view, std::string_view> parts(std::string_view line) {
  const std::size_t size = kChainMark.size() + kChain + 2;
  if (line.size() <= size || !line.ends_with("\"}")) return {};
  const std::string_view tail = line.substr(line.size() - size);
  if (!tail.starts_with(kChainMark)) return {};
  return {line.substr(0, line.size() - size), tail.substr(kChainMark.size(), kChain)};
}

Issue broken(std::uint64_t line, std::string text) {
  return {Severity::Error, IssueType::Invariant,
          "trail",         "line " + std::to_string(line),
          std::move(text), "Keep the file as it is and find out who could write to it."};
}

}  // namespace

Result<Trail> Trail::open(const std::filesystem::path& file, KeyedHash hash) {
  std::error_code missing;
  std::string text;
  if (std::filesystem::exists(file, missing)) {
    Result<std::string> read = readFile(file);
    if (!read) return std::move(read).issues();
    text = *std::move(read);
  }
  const int descriptor = ::open(file.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
  if (descriptor < 0) return cannot("open");
  Trail out(descriptor, std::move(hash));
  const std::size_t whole = text.empty() ? 0 : text.rfind('\n') + 1;
  const std::size_t torn = text.size() - whole;
  if (torn > 0 && ::ftruncate(descriptor, static_cast<off_t>(whole)) != 0) return cannot("mend");
  text.resize(whole);
  TrailReport report = verifyTrail(text, out.hash_);
  out.chain_ = std::move(report.chain);
  out.lines_ = report.lines;
  if (!report.issues.empty() &&
      report.issues.back().place == "line " + std::to_string(report.lines)) {
    return Issue{Severity::Fatal,
                 IssueType::Exception,
                 "trail",
                 "",
                 "The audit trail " + file.string() + " does not end with a line of ours.",
                 "See `footbridge audit verify`. Move the file away to begin a new one."};
  }
  return out;
}

Issues Trail::note(const Access& access) {
  const std::string body = bodyOf(access, lines_ + 1);
  std::string chain = chained(hash_, chain_.empty() ? kStart : std::string_view(chain_), body);
  const std::string line = body + std::string(kChainMark) + chain + "\"}\n";
  if (::write(descriptor_, line.data(), line.size()) != static_cast<ssize_t>(line.size())) {
    return {cannot("write to")};
  }
  chain_ = std::move(chain);
  ++lines_;
  return {};
}

Issues Trail::sync() {
  if (::fdatasync(descriptor_) == 0) return {};
  return {cannot("sync")};
}

Trail::~Trail() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

Trail::Trail(Trail&& other) noexcept
    : descriptor_(std::exchange(other.descriptor_, -1)),
      hash_(std::move(other.hash_)),
      chain_(std::move(other.chain_)),
      lines_(other.lines_) {}

TrailReport verifyTrail(std::string_view text, const KeyedHash& hash) {
  TrailReport out;
  std::string before(kStart);
  while (!text.empty()) {
    const std::string_view line = text.substr(0, text.find('\n'));
    text.remove_prefix(std::min(line.size() + 1, text.size()));
    ++out.lines;
    const auto [body, chain] = parts(line);
    if (chain.empty()) {
      out.issues.push_back(broken(out.lines, "This is no line of the trail."));
      continue;
    }
    if (!body.starts_with("{\"n\":" + std::to_string(out.lines) + ",")) {
      out.issues.push_back(broken(out.lines, "The number is wrong: lines are missing, or more."));
    } else if (chained(hash, before, body) != chain) {
      out.issues.push_back(broken(out.lines, "The line, or one before it, is not as it was."));
    }
    before = chain;
  }
  if (out.lines > 0) out.chain = before;
  return out;
}

}  // namespace footbridge::serve
