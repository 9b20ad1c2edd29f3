#include "csv/heading.hpp"

#include <algorithm>

#include "csv/source_map.hpp"

namespace footbridge::csv {
namespace {

constexpr std::size_t kLongestPhrase = 4;

bool lower(char c) { return c >= 'a' && c <= 'z'; }
bool upper(char c) { return c >= 'A' && c <= 'Z'; }
bool wordCharacter(char c) {
  return lower(c) || upper(c) || (c >= '0' && c <= '9') || static_cast<unsigned char>(c) > 127;
}

/// Words between signs, as they stand.
std::vector<std::string> pieces(std::string_view heading) {
  std::vector<std::string> out(1);
  for (const char c : heading) {
    if (wordCharacter(c)) {
      out.back() += c;
    } else if (!out.back().empty()) {
      out.emplace_back();
    }
  }
  if (out.back().empty()) out.pop_back();
  return out;
}

/// "visitDate" as "visit", "Date".
std::vector<std::string> atCapitals(const std::string& word) {
  std::vector<std::string> out(1);
  for (std::size_t i = 0; i < word.size(); ++i) {
    const bool rises = i > 0 && upper(word[i]) && lower(word[i - 1]);
    const bool falls =
        i > 0 && i + 1 < word.size() && upper(word[i - 1]) && upper(word[i]) && lower(word[i + 1]);
    if (rises || falls) out.emplace_back();
    out.back() += word[i];
  }
  return out;
}

}  // namespace

const HeadingRow* HeadingParts::first(std::string_view part) const {
  const auto found = std::find_if(rows.begin(), rows.end(),
                                  [part](const HeadingRow* row) { return row->part == part; });
  return found == rows.end() ? nullptr : *found;
}

bool HeadingParts::contradicts(std::string_view part) const {
  const HeadingRow* one = first(part);
  return std::any_of(rows.begin(), rows.end(), [&](const HeadingRow* row) {
    return row->part == part && row->means != one->means;
  });
}

HeadingWords::HeadingWords(const Tables& tables) : tables_(tables) {
  for (const HeadingRow& row : tables.headings) {
    if (row.part == "cell") continue;
    for (const std::string& phrase : row.words) {
      phrases_.emplace(phrase, &row);
      for (const std::string& word : pieces(phrase)) single_[word] = 1;
    }
  }
}

/// The words of a heading in lower case. A word that nothing explains is tried at its capitals,
/// then with the letter of a side in front.
std::vector<std::string> HeadingWords::split(std::string_view heading, bool& fused) const {
  std::vector<std::string> out;
  for (const std::string& piece : pieces(heading)) {
    if (known(folded(piece))) {
      out.push_back(folded(piece));
      continue;
    }
    for (const std::string& part : atCapitals(piece)) {
      const std::string word = folded(part);
      const bool side = word.size() > 2 && (word.front() == 'r' || word.front() == 'l');
      if (!known(word) && side && known(word.substr(1))) {
        out.push_back(word.substr(0, 1));
        out.push_back(word.substr(1));
        fused = true;
      } else {
        out.push_back(word);
      }
    }
  }
  return out;
}

HeadingParts HeadingWords::read(std::string_view heading) const {
  HeadingParts out;
  const std::vector<std::string> words = split(heading, out.fused);
  for (std::size_t at = 0; at < words.size();) {
    std::size_t taken = 0;
    for (std::size_t length = std::min(kLongestPhrase, words.size() - at); length > 0; --length) {
      std::string phrase = words[at];
      for (std::size_t i = 1; i < length; ++i) phrase += " " + words[at + i];
      const auto found = phrases_.find(phrase);
      if (found == phrases_.end()) continue;
      out.rows.push_back(found->second);
      taken = length;
      break;
    }
    if (taken == 0) out.unexplained.push_back(words[at]);
    at += std::max<std::size_t>(taken, 1);
  }
  return out;
}

const HeadingRow* HeadingWords::cell(std::string_view word, std::string_view kind) const {
  for (const std::string_view wanted : {kind, std::string_view{"any"}}) {
    for (const HeadingRow& row : tables_.headings) {
      const bool fits = row.part == "cell" && row.kind == wanted;
      if (fits && std::find(row.words.begin(), row.words.end(), word) != row.words.end()) {
        return &row;
      }
    }
  }
  return nullptr;
}

}  // namespace footbridge::csv
