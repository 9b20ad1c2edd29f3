#include "csv/rows.hpp"

#include <algorithm>
#include <istream>

#include "core/text.hpp"

namespace footbridge::csv {
namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

/// Takes the mark off the first cell; a quotation mark behind it was not seen as one.
void dropMark(Record& record) {
  if (record.cells.empty() || !record.cells[0].starts_with(kByteOrderMark)) return;
  std::string& cell = record.cells[0];
  cell.erase(0, kByteOrderMark.size());
  if (cell.size() < 2 || !cell.starts_with('"') || !cell.ends_with('"')) return;
  cell = cell.substr(1, cell.size() - 2);
}

bool namesSeparator(const Record& record) {
  std::string_view line = trimmed(record.raw);
  if (line.starts_with(kByteOrderMark)) line.remove_prefix(kByteOrderMark.size());
  return line.size() <= 5 && line.starts_with("sep=");
}

}  // namespace

bool blank(const Record& record) {
  return record.fault == Fault::None &&
         std::all_of(record.cells.begin(), record.cells.end(),
                     [](const std::string& cell) { return trimmed(cell).empty(); });
}

bool Rows::pull(char& c) {
  if (backAt_ < back_.size()) {
    c = back_[backAt_++];
    return true;
  }
  const int next = in_.rdbuf()->sbumpc();
  c = static_cast<char>(next);
  return next != std::char_traits<char>::eof();
}

std::optional<Record> Rows::record() {
  char c = 0;
  bool done = false;
  while (!done && !ended_) {
    if (pull(c)) {
      done = tokenizer_.take(c);
    } else {
      done = tokenizer_.finish();
      ended_ = true;
    }
  }
  if (!done) return std::nullopt;
  std::string again = tokenizer_.takeBack();
  if (!again.empty()) {
    back_ = again + back_.substr(backAt_);
    backAt_ = 0;
    ended_ = false;
  }
  return std::move(tokenizer_.record());
}

std::optional<Numbered> Rows::next() {
  std::string separator;
  while (std::optional<Record> out = record()) {
    if (number_ == 0 && separator.empty() && namesSeparator(*out)) {
      separator = std::move(out->raw);
      continue;
    }
    ++number_;
    if (number_ == 1) {
      dropMark(*out);
      out->raw.insert(0, separator);
    }
    if (!blank(*out)) return Numbered{*std::move(out), number_};
  }
  return std::nullopt;
}

}  // namespace footbridge::csv
