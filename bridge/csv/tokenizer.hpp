#pragma once
// CSV by RFC 4180, one byte at a time: quoted cells with separators, line breaks and doubled
// quotation marks in them; CRLF or LF at the end of a record. Bytes above 127 pass as they are.

#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace footbridge::csv {

/// What is wrong with the form of a record.
enum class Fault : std::uint8_t {
  None,
  QuoteOpen,   ///< a quotation mark was opened and never closed
  QuoteAfter,  ///< something follows a closing quotation mark within the same cell
  TooLong      ///< the record is larger than Tokenizer::kRecordLimit
};

/// One record with the bytes it was made of, the end of line included.
struct Record {
  std::vector<std::string> cells;
  std::string raw;
  std::size_t line = 1;  ///< of its first byte, from 1
  Fault fault = Fault::None;
  std::size_t faultLine = 0;    ///< where the quotation mark at fault stands
  std::size_t faultColumn = 0;  ///< in bytes, from 1
};

/// Push parser. A record at fault ends with its first line, and what came after that line is to be
/// pushed again: a quotation mark that someone forgot costs one line, not the rest of the file.
///
///   Tokenizer tokenizer(';');
///   for (char c : bytes) if (tokenizer.take(c)) use(tokenizer.record());
///   if (tokenizer.finish()) use(tokenizer.record());
class Tokenizer {
 public:
  /// The largest record that is taken, in bytes.
  static constexpr std::size_t kRecordLimit = 256U << 10U;

  explicit Tokenizer(char delimiter) : delimiter_(delimiter) {}

  /// True if this byte completed a record.
  bool take(char c);

  /// After the last byte: true if there is one more record.
  bool finish();

  /// The record that was completed; valid until the next take().
  Record& record() { return record_; }

  /// After a record at fault: the bytes behind its first line, to be taken again before any other.
  std::string takeBack() { return std::exchange(back_, {}); }

 private:
  enum class State : std::uint8_t { CellStart, Plain, Quoted, QuoteSeen, ReturnSeen, Skipping };

  void begin();
  bool step(char c);
  bool stepInCell(char c);
  bool stepAfterQuote(char c);
  bool fail(Fault fault);
  bool endRecord();
  void endCell();

  char delimiter_;
  State state_ = State::CellStart;
  bool open_ = false;  ///< a record is under way
  Record record_;
  std::string cell_;
  std::string back_;
  std::size_t line_ = 1;
  std::size_t column_ = 0;
  std::size_t quoteLine_ = 0;
  std::size_t quoteColumn_ = 0;
};

}  // namespace footbridge::csv
