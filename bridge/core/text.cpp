#include "core/text.hpp"

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <numeric>

namespace footbridge {
namespace {

std::size_t editDistance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t substitute = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, substitute});
    }
  }
  return row.back();
}

/// Where the blocks of eight ASCII bytes end that begin at `from`.
std::size_t asciiLength(std::string_view bytes, std::size_t from) {
  std::uint64_t block = 0;
  for (; from + sizeof block <= bytes.size(); from += sizeof block) {
    std::memcpy(&block, bytes.data() + from, sizeof block);
    if ((block & 0x8080808080808080U) != 0) break;
  }
  return from;
}

/// Length of the sequence that a lead byte opens, 0 if it opens none.
std::size_t sequenceLength(std::uint8_t lead) {
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return 2;
  if (lead >= 0xE0 && lead <= 0xEF) return 3;
  if (lead >= 0xF0 && lead <= 0xF4) return 4;
  return 0;
}

/// The second byte's range depends on the lead (RFC 3629 section 4): this is where overlong forms,
/// surrogates and code points above U+10FFFF are refused.
bool secondFits(std::uint8_t lead, std::uint8_t second) {
  const std::uint8_t low = lead == 0xE0 ? 0xA0 : (lead == 0xF0 ? 0x90 : 0x80);
  const std::uint8_t high = lead == 0xED ? 0x9F : (lead == 0xF4 ? 0x8F : 0xBF);
  return second >= low && second <= high;
}

/// Length of the character that stands there (RFC 3629), 0 if none does.
std::size_t characterLength(std::string_view bytes, std::size_t from) {
  const auto at = [bytes](std::size_t i) { return static_cast<std::uint8_t>(bytes[i]); };
  const std::size_t length = sequenceLength(at(from));
  if (length == 0 || length > bytes.size() - from) return 0;
  if (length > 1 && !secondFits(at(from), at(from + 1))) return 0;
  for (std::size_t k = 2; k < length; ++k) {
    if ((at(from + k) & 0xC0) != 0x80) return 0;
  }
  return length;
}

/// Length of the control character (C0, DEL, C1) that the text begins with, 0 if it is none.
std::size_t controlLength(std::string_view text) {
  const auto first = static_cast<std::uint8_t>(text[0]);
  if (first < 0x20 || first == 0x7F) return 1;
  const bool c1 = first == 0xC2 && text.size() > 1 && static_cast<std::uint8_t>(text[1]) < 0xA0;
  return c1 ? 2 : 0;
}

}  // namespace

std::string_view nearest(std::string_view word, std::span<const std::string> candidates) {
  std::string_view best;
  std::size_t fewest = std::max<std::size_t>(word.size() / 3, 2) + 1;
  for (const std::string& candidate : candidates) {
    const std::size_t apart =
        std::max(word.size(), candidate.size()) - std::min(word.size(), candidate.size());
    if (apart >= fewest) continue;  // at least so many edits; spares the table for a huge word
    const std::size_t edits = editDistance(word, candidate);
    if (edits >= fewest) continue;
    fewest = edits;
    best = candidate;
  }
  return best;
}

Sentence::Sentence(std::string text) : text_(std::move(text)) {
  for (std::size_t open = text_.find('{'); open != std::string::npos;) {
    const std::size_t close = text_.find('}', open);
    if (close == std::string::npos) return;
    const std::string_view name = std::string_view(text_).substr(open + 1, close - open - 1);
    gaps_.push_back({open, close + 1, HashedText(name).hash()});
    open = text_.find('{', close);
  }
}

/// What belongs into a gap: the argument of its name, or the name as it stands.
std::string_view Sentence::valueOf(const Gap& gap, Arguments arguments) const {
  const std::string_view named = std::string_view(text_).substr(gap.begin, gap.end - gap.begin);
  for (const auto& [name, value] : arguments) {
    if (name.hash() == gap.name && sameText(name.text(), named.substr(1, named.size() - 2)))
      return value;
  }
  return named;
}

std::string Sentence::fill(Arguments arguments) const {
  if (gaps_.empty()) return text_;
  std::string out;
  std::size_t size = text_.size();
  for (const auto& [name, value] : arguments) size += value.size();
  out.reserve(size);
  std::size_t done = 0;
  for (const Gap& gap : gaps_) {
    out.append(text_.data() + done, gap.begin - done);
    out += valueOf(gap, arguments);
    done = gap.end;
  }
  out.append(text_.data() + done, text_.size() - done);
  return out;
}

std::string fill(std::string_view sentence, Arguments arguments) {
  return Sentence(std::string(sentence)).fill(arguments);
}

bool validUtf8(std::string_view bytes) {
  std::size_t i = asciiLength(bytes, 0);
  while (i < bytes.size()) {
    const std::size_t length = characterLength(bytes, i);
    if (length == 0) return false;
    i = asciiLength(bytes, i + length);
  }
  return true;
}

bool plainName(std::string_view name) {
  return !name.empty() && name.size() <= 40 && std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  });
}

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view kSpace = " \t\r\n\f\v";
  const std::size_t first = text.find_first_not_of(kSpace);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kSpace) - first + 1);
}

std::string_view shortened(std::string_view text, std::size_t limit) {
  if (text.size() <= limit) return text;
  while (limit > 0 && (static_cast<std::uint8_t>(text[limit]) & 0xC0) == 0x80) --limit;
  return text.substr(0, limit);
}

std::string printable(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size();) {
    const std::size_t length = characterLength(text, i);
    const bool shown = length > 0 && controlLength(text.substr(i)) == 0;
    out += shown ? text.substr(i, length) : std::string_view("\xEF\xBF\xBD");
    i += std::max<std::size_t>(length, 1);
  }
  return out;
}

}  // namespace footbridge
