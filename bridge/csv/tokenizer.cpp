#include "csv/tokenizer.hpp"

#include <utility>

namespace footbridge::csv {

void Tokenizer::begin() {
  open_ = true;
  state_ = State::CellStart;
  record_ = {};
  record_.line = line_;
  cell_.clear();
}

void Tokenizer::endCell() {
  record_.cells.push_back(std::exchange(cell_, {}));
  state_ = State::CellStart;
}

bool Tokenizer::endRecord() {
  endCell();
  open_ = false;
  return true;
}

/// Ends the record with its first line. What was read beyond that is given back; if the line is
/// still going on, the rest of it is skipped first.
bool Tokenizer::fail(Fault fault) {
  record_.fault = fault;
  record_.faultLine = quoteLine_;
  record_.faultColumn = quoteColumn_;
  record_.cells.clear();
  const std::size_t end = record_.raw.find('\n');
  if (end == std::string::npos) {
    state_ = State::Skipping;
    return false;
  }
  back_ = record_.raw.substr(end + 1);
  record_.raw.resize(end + 1);
  line_ = record_.line + 1;
  column_ = 0;
  open_ = false;
  return true;
}

bool Tokenizer::stepInCell(char c) {
  if (c == delimiter_) {
    endCell();
    return false;
  }
  if (c == '\n') {
    if (cell_.ends_with('\r')) cell_.pop_back();
    return endRecord();
  }
  if (c == '"' && state_ == State::CellStart) {
    state_ = State::Quoted;
    quoteLine_ = line_;
    quoteColumn_ = column_;
    return false;
  }
  // A quotation mark within an unquoted cell is taken as it stands: 5" is five inches.
  state_ = State::Plain;
  cell_ += c;
  return false;
}

bool Tokenizer::stepAfterQuote(char c) {
  if (state_ == State::QuoteSeen && c == '"') {
    cell_ += c;
    state_ = State::Quoted;
    return false;
  }
  if (state_ == State::QuoteSeen && c == '\r') {
    state_ = State::ReturnSeen;
    return false;
  }
  if (c == '\n') return endRecord();
  if (state_ == State::QuoteSeen && c == delimiter_) {
    endCell();
    return false;
  }
  return fail(Fault::QuoteAfter);
}

bool Tokenizer::step(char c) {
  switch (state_) {
    case State::CellStart:
    case State::Plain:
      return stepInCell(c);
    case State::Quoted:
      if (c == '"') {
        state_ = State::QuoteSeen;
      } else {
        cell_ += c;
      }
      return false;
    case State::QuoteSeen:
    case State::ReturnSeen:
      return stepAfterQuote(c);
    case State::Skipping:
      open_ = c != '\n';
      return c == '\n';
  }
  return false;
}

bool Tokenizer::take(char c) {
  if (!open_) begin();
  ++column_;
  bool done = false;
  if (record_.raw.size() < kRecordLimit || state_ == State::Skipping) {
    if (record_.raw.size() < kRecordLimit) record_.raw += c;
    done = step(c);
  } else if (fail(state_ == State::Quoted ? Fault::QuoteOpen : Fault::TooLong)) {
    back_ += c;
    done = true;
  } else {
    done = step(c);
  }
  if (c == '\n' && back_.empty()) {
    ++line_;
    column_ = 0;
  }
  return done;
}

bool Tokenizer::finish() {
  if (!open_) return false;
  if (state_ == State::Skipping) {
    open_ = false;
    return true;
  }
  if (state_ == State::Quoted) {
    if (!fail(Fault::QuoteOpen)) open_ = false;
    return true;
  }
  if (state_ == State::Plain && cell_.ends_with('\r')) cell_.pop_back();
  return endRecord();
}

}  // namespace footbridge::csv
