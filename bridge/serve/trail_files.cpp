#include "serve/trail_files.hpp"

#include <algorithm>
#include <charconv>
#include <fstream>
#include <system_error>

#include "core/digest.hpp"
#include "json/writer.hpp"
#include "serve/trail.hpp"

namespace footbridge::serve {
namespace {

constexpr std::string_view kChainMark = R"(,"chain":")";
constexpr std::string_view kNumberMark = R"({"n":)";
constexpr std::string_view kBeforeMark = R"(,"before":")";
constexpr std::string_view kAtMark = R"(,"at":")";
constexpr std::size_t kChain = 32;  ///< hexadecimal digits
constexpr std::string_view kStart = "footbridge trail 1";
constexpr std::size_t kDigits = 12;            ///< of a number in the name of a file
constexpr std::uint64_t kTailStep = 64 << 10;  ///< a line is far shorter

Issue unreadable(const std::filesystem::path& file) {
  return {Severity::Fatal,
          IssueType::NotFound,
          "trail",
          "",
          "Cannot read " + file.string() + " of the audit trail.",
          "Check that it is there and that this user may read it."};
}

std::optional<std::uint64_t> numberIn(std::string_view digits) {
  std::uint64_t out = 0;
  const auto [end, fault] = std::from_chars(digits.data(), digits.data() + digits.size(), out);
  if (fault != std::errc() || end != digits.data() + digits.size()) return std::nullopt;
  return out;
}

/// What stands between the mark at the beginning of `rest` and the next quote; takes both away.
std::string_view quoted(std::string_view& rest, std::string_view mark) {
  if (!rest.starts_with(mark)) return {};
  const std::string_view inside = rest.substr(mark.size());
  const std::string_view out = inside.substr(0, inside.find('"'));
  rest = inside.substr(std::min(out.size() + 1, inside.size()));
  return out;
}

std::string bytesAt(std::ifstream& in, std::uint64_t from, std::uint64_t count) {
  std::string out(count, '\0');
  in.seekg(static_cast<std::streamoff>(from));
  in.read(out.data(), static_cast<std::streamsize>(count));
  out.resize(static_cast<std::size_t>(in.gcount()));
  return out;
}

/// False if more of the file has to be looked at.
bool takeTail(std::string_view bytes, bool all, TrailTail& out) {
  const std::size_t end = bytes.rfind('\n');
  if (end == std::string_view::npos) return all;
  out.whole = out.size - bytes.size() + end + 1;
  bytes = bytes.substr(0, end);
  const std::size_t before = bytes.rfind('\n');
  out.last = std::string(bytes.substr(before == std::string_view::npos ? 0 : before + 1));
  if (before == std::string_view::npos) return all;
  bytes = bytes.substr(0, before);
  const std::size_t first = bytes.rfind('\n');
  out.previous = std::string(bytes.substr(first == std::string_view::npos ? 0 : first + 1));
  return all || first != std::string_view::npos;
}

/// The place of reading: in which file, and how far.
struct Reading {
  std::uint64_t given = 0;  ///< number of the last line that was given
  bool more = true;
};

using Take = std::function<bool(const TrailText&)>;

void readLines(std::ifstream& in, const ClosedPart& part, Reading& reading, const Take& take) {
  std::uint64_t row = 0;
  for (std::string line; reading.more && std::getline(in, line);) {
    const std::uint64_t number = part.first + row++;
    reading.more = take({part.path, row, number, line, !in.eof()});
    reading.given = std::max(reading.given, number);
  }
}

}  // namespace

std::optional<TrailLine> partsOf(std::string_view line) {
  const std::size_t size = kChainMark.size() + kChain + 2;
  if (line.size() <= size || !line.ends_with("\"}")) return std::nullopt;
  const std::string_view tail = line.substr(line.size() - size);
  if (!tail.starts_with(kChainMark) || !line.starts_with(kNumberMark)) return std::nullopt;
  TrailLine out;
  out.body = line.substr(0, line.size() - size);
  out.chain = tail.substr(kChainMark.size(), kChain);
  std::string_view rest = out.body.substr(kNumberMark.size());
  const std::string_view digits = rest.substr(0, rest.find(','));
  const std::optional<std::uint64_t> number = numberIn(digits);
  if (!number) return std::nullopt;
  out.number = *number;
  rest.remove_prefix(digits.size());
  out.before = quoted(rest, kBeforeMark);
  out.at = quoted(rest, kAtMark);
  return out;
}

std::string trailBody(const Access& access, std::uint64_t number, std::string_view before) {
  json::Writer out;
  out.beginObject().name("n").number(static_cast<long long>(number)).member("before", before);
  out.member("at", access.at).member("who", access.who).member("from", access.from);
  out.member("what", access.what).member("about", access.about);
  out.name("outcome").number(access.outcome).member("request", access.request).endObject();
  std::string line(out.text());
  line.pop_back();
  return line;
}

std::string trailChain(const KeyedHash& hash, std::string_view before, std::string_view body) {
  std::string text(before.empty() ? kStart : before);
  text.append("\n").append(body);
  return hex(hash(text));
}

std::string trailLine(std::string_view body, std::string_view chain) {
  std::string out(body);
  return out.append(kChainMark).append(chain).append("\"}\n");
}

std::filesystem::path closedName(const std::filesystem::path& file, std::uint64_t first) {
  std::string digits = std::to_string(first);
  if (digits.size() < kDigits) digits.insert(0, kDigits - digits.size(), '0');
  return file.parent_path() / (file.stem().string() + "-" + digits + file.extension().string());
}

std::vector<ClosedPart> closedParts(const std::filesystem::path& file) {
  std::vector<ClosedPart> out;
  const std::string stem = file.stem().string() + "-";
  std::error_code ignored;
  const std::filesystem::path folder = file.has_parent_path() ? file.parent_path() : ".";
  for (const auto& each : std::filesystem::directory_iterator(folder, ignored)) {
    const std::string name = each.path().stem().string();
    if (!name.starts_with(stem) || each.path().extension() != file.extension()) continue;
    const std::optional<std::uint64_t> first = numberIn(std::string_view(name).substr(stem.size()));
    if (first) out.push_back({each.path(), *first});
  }
  std::sort(out.begin(), out.end(),
            [](const ClosedPart& a, const ClosedPart& b) { return a.first < b.first; });
  return out;
}

Result<TrailTail> tailOf(const std::filesystem::path& file) {
  TrailTail out;
  std::error_code fault;
  if (!std::filesystem::exists(file, fault)) return out;
  std::ifstream in(file, std::ios::binary);
  out.size = std::filesystem::file_size(file, fault);
  if (!in || fault) return unreadable(file);
  for (std::uint64_t count = kTailStep; out.size > 0; count *= 2) {
    const std::uint64_t from = out.size > count ? out.size - count : 0;
    if (takeTail(bytesAt(in, from, out.size - from), from == 0, out)) break;
    if (!in) return unreadable(file);
  }
  return out;
}

std::string headOf(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::string out;
  return std::getline(in, out) && !in.eof() ? out : std::string();
}

Issues readTrail(const std::filesystem::path& file, std::uint64_t after, const Take& take) {
  // Opened before the others are looked for: if it is closed and renamed meanwhile, it is among
  // them, and is not read twice.
  std::ifstream current(file, std::ios::binary);
  std::string head;
  std::getline(current, head);
  const std::optional<TrailLine> first = partsOf(head);
  std::vector<ClosedPart> parts = closedParts(file);
  if (!current.is_open() && parts.empty()) return {unreadable(file)};
  const bool known = first && std::any_of(parts.begin(), parts.end(), [&](const ClosedPart& part) {
                       return part.first == first->number;
                     });
  const std::size_t closed = parts.size();
  if (!head.empty() && !known) parts.push_back({file, first ? first->number : 0});
  Reading reading;
  for (std::size_t i = 0; i < parts.size() && reading.more; ++i) {
    const bool passed =
        i + 1 < parts.size() && parts[i + 1].first != 0 && parts[i + 1].first <= after + 1;
    if (passed) continue;
    if (parts[i].first == 0) parts[i].first = reading.given + 1;
    std::ifstream in;
    if (i < closed) in.open(parts[i].path, std::ios::binary);
    if (i < closed && !in) return {unreadable(parts[i].path)};
    current.clear();
    current.seekg(0);
    readLines(i < closed ? in : current, parts[i], reading, take);
  }
  return {};
}

}  // namespace footbridge::serve
