#include "csv/reader.hpp"

#include <charconv>
#include <istream>
#include <sstream>
#include <unordered_set>

#include "core/digest.hpp"
#include "csv/header.hpp"
#include "csv/rows.hpp"
#include "csv/visit.hpp"

namespace footbridge::csv {
namespace {

/// Enough of a key to tell visits apart: two of ten million are taken for one with a chance of
/// three in a million (birthday bound over 64 bits).
std::uint64_t shortKey(std::string_view key) {
  const std::string digest = sha256(key).substr(0, 16);
  std::uint64_t out = 0;
  std::from_chars(digest.data(), digest.data() + digest.size(), out, 16);
  return out;
}

/// What is wrong with the form of a record, or the row in text.
struct Taken {
  Row row;
  Issues faults;
  bool whole = false;  ///< every cell of the header is there and readable
};

}  // namespace

struct Reader::State {
  std::istream* in;
  std::string name;
  const SourceMap& map;
  const Tables& tables;
  std::istringstream held;
  std::optional<Rows> rows;
  Header header;
  std::string headerBytes;
  Issues notices;
  std::unordered_set<std::uint64_t> apart;  ///< visits whose rows do not stand together
  std::optional<Taken> ready;               ///< first row of the next visit
  std::string cut;                          ///< the visit whose rows were too many
  bool doubtful = false;  ///< a row that could not be read stood right before `ready`
  bool started = false;
  bool told = false;  ///< of something below the header
  bool over = false;

  State(std::istream& from, std::string called, const SourceMap& by, const Tables& with)
      : in(&from), name(std::move(called)), map(by), tables(with) {}

  std::optional<Issue> otherEncoding(std::string_view raw) const;
  std::optional<intake::Text> start();
  std::optional<intake::Text> readAhead();
  bool canRewind();
  void findApart();
  Taken taken(Numbered&& numbered) const;
  void checkWidth(Taken& out) const;
  std::optional<Taken> row();
  std::string keyOf(const Taken& taken) const;
  intake::Text yield(Visit& visit);
  intake::Text refusal(Issues issues) const { return {name, {}, std::move(issues)}; }
  std::optional<intake::Text> oneRow();
  std::optional<intake::Text> manyRows();
  void takeInto(Visit& visit, Taken&& taken);
  void gather(Visit& visit, const std::string& current);
};

Reader::Reader(std::istream& in, std::string name, const SourceMap& map, const Tables& tables)
    : state_(std::make_unique<State>(in, std::move(name), map, tables)) {}

Reader::~Reader() = default;

const Issues& Reader::notices() const { return state_->notices; }

/// What the first bytes say against the encoding of the map. A NUL beside the first character is
/// UTF-16 without its mark: no name of a column holds one.
std::optional<Issue> Reader::State::otherEncoding(std::string_view raw) const {
  const bool marked = raw.starts_with("\xFF\xFE") || raw.starts_with("\xFE\xFF");
  if (marked || raw.substr(0, 2).find('\0') != std::string_view::npos) {
    return issue(tables.rule("csv-utf16"), "row 1");
  }
  if (map.encoding == Encoding::Utf8 || !raw.starts_with("\xEF\xBB\xBF")) return std::nullopt;
  return issue(tables.rule("csv-mark"), "row 1");
}

/// Reads the header; a text if there is no going on.
std::optional<intake::Text> Reader::State::start() {
  rows.emplace(*in, map.delimiter);
  std::optional<Numbered> first = rows->next();
  if (!first) return refusal({issue(tables.rule("intake-nothing"), "")});
  if (auto other = otherEncoding(first->record.raw)) return refusal({*std::move(other)});
  if (first->record.fault != Fault::None) return refusal(taken(*std::move(first)).faults);
  headerBytes = first->record.raw;
  Issues faults;
  notices.clear();
  header = readHeader(first->record, map, tables, faults, notices);
  if (!faults.empty()) return refusal(std::move(faults));
  return std::nullopt;
}

/// True if the input can be read again from its beginning, of itself or because it is held.
bool Reader::State::canRewind() {
  const auto begin = in->tellg();
  if (begin != std::istream::pos_type(-1)) return true;
  in->clear();
  std::string bytes;
  for (int c = in->rdbuf()->sbumpc(); c != EOF && bytes.size() <= kHeldLimit;
       c = in->rdbuf()->sbumpc()) {
    bytes += static_cast<char>(c);
  }
  if (bytes.size() > kHeldLimit) return false;
  held.str(std::move(bytes));
  in = &held;
  return true;
}

/// Goes through the file once for the visits whose rows do not follow each other.
void Reader::State::findApart() {
  std::string current;
  std::unordered_set<std::uint64_t> finished;
  while (const std::optional<Taken> next = row()) {
    const std::string of = keyOf(*next);
    if (of.empty() || of == current) continue;
    if (!current.empty()) finished.insert(shortKey(current));
    current = of;
    if (finished.contains(shortKey(of))) apart.insert(shortKey(of));
  }
}

std::optional<intake::Text> Reader::State::readAhead() {
  started = true;
  if (map.rows == RowMeaning::Assessment) return start();
  if (!canRewind()) return refusal({issue(tables.rule("csv-pipe"), "")});
  const auto begin = in->tellg();
  if (std::optional<intake::Text> fault = start()) return fault;
  findApart();
  in->clear();
  in->seekg(begin);
  return start();
}

Taken Reader::State::taken(Numbered&& numbered) const {
  Record& record = numbered.record;
  Taken out;
  out.row.number = numbered.number;
  const std::string place = "row " + std::to_string(numbered.number);
  const auto remark = [&](RowId rule, const std::string& where, Arguments arguments) {
    out.faults.push_back(issue(tables.rule(rule), where, arguments));
  };
  out.row.raw = std::move(record.raw);
  if (record.fault == Fault::TooLong) {
    remark("csv-row-long", place, {{"limit", std::to_string(Tokenizer::kRecordLimit >> 10U)}});
  } else if (record.fault != Fault::None) {
    remark(choose(record.fault == Fault::QuoteOpen, "csv-quote-open", "csv-quote-after"), place,
           {{"line", std::to_string(record.faultLine)},
            {"column", std::to_string(record.faultColumn)}});
  }
  if (!out.faults.empty()) return out;
  for (const std::string& cell : record.cells) {
    std::optional<std::string> text = decoded(cell, map.encoding);
    const std::size_t index = out.row.cells.size();
    // No text of ours may hold a NUL, whatever the encoding says.
    if (!text || text->find('\0') != std::string::npos) {
      const bool named = index < header.names.size();
      remark("csv-encoding", place + ", column '" + (named ? header.names[index] : "") + "'",
             {{"encoding", map.encoding == Encoding::Utf8 ? "UTF-8" : "Windows-1252"}});
    }
    out.row.cells.push_back(text.value_or(""));
  }
  checkWidth(out);
  return out;
}

/// A row of another width than the header may be shifted, and a shifted row is a wrong side. So a
/// cell too many counts though it is empty, unless the header has the same empty one at its end.
void Reader::State::checkWidth(Taken& out) const {
  std::vector<std::string>& cells = out.row.cells;
  std::size_t wanted = header.width;
  if (cells.size() == wanted) {
    wanted = header.names.size();
    while (cells.size() > wanted && trimmed(cells.back()).empty()) cells.pop_back();
  }
  if (cells.size() != wanted) {
    out.faults.push_back(
        issue(tables.rule(choose(cells.size() < wanted, "csv-cells-few", "csv-cells-many")),
              "row " + std::to_string(out.row.number),
              {{"found", std::to_string(cells.size())}, {"wanted", std::to_string(wanted)}}));
  }
  out.whole = out.faults.empty();
}

std::optional<Taken> Reader::State::row() {
  std::optional<Numbered> next = rows->next();
  if (!next) return std::nullopt;
  return taken(*std::move(next));
}

/// By what rows of one visit are told apart; "" if the row does not say, or may be shifted.
std::string Reader::State::keyOf(const Taken& taken) const {
  if (!taken.whole) return {};
  const Row& row = taken.row;
  std::string out;
  bool any = false;
  for (const std::size_t index : header.key) {
    any = any || !trimmed(row.cells[index]).empty();
    out += std::string(trimmed(row.cells[index])) + '\x1F';
  }
  return any ? out : std::string{};
}

/// The visit as a text, with the file it came from.
intake::Text Reader::State::yield(Visit& visit) {
  intake::Text out = visit.text();
  out.name = name + " " + visit.place();
  out.original->input = name;
  out.original->header = headerBytes;
  return out;
}

std::optional<intake::Text> Reader::State::oneRow() {
  std::optional<Taken> next = row();
  if (!next) return std::nullopt;
  Visit visit(map, tables, header.columns);
  if (next->whole) {
    visit.add(next->row);
    return yield(visit);
  }
  const std::string place = "row " + std::to_string(next->row.number);
  return intake::Text{name + " " + place,
                      {},
                      std::move(next->faults),
                      intake::Original{name, headerBytes, std::move(next->row.raw), place, {}}};
}

void Reader::State::takeInto(Visit& visit, Taken&& taken) {
  if (!keyOf(taken).empty()) return visit.add(taken.row);
  if (taken.whole) {
    taken.faults.push_back(
        issue(tables.rule("csv-key-missing"), "row " + std::to_string(taken.row.number)));
  }
  visit.addUnread(taken.row, std::move(taken.faults));
}

/// Adds the rows that follow and belong to the visit. One that cannot be read may belong to it, or
/// to the next: neither is then sent without it.
void Reader::State::gather(Visit& visit, const std::string& current) {
  doubtful = current.empty();
  for (std::size_t count = 1; (ready = row()); ++count) {
    const std::string of = keyOf(*ready);
    if (!of.empty() && of != current) return;
    if (count == kVisitLimit) {
      cut = current;
      return;
    }
    doubtful = of.empty();
    takeInto(visit, *std::move(ready));
  }
}

std::optional<intake::Text> Reader::State::manyRows() {
  if (!ready && !(ready = row())) return std::nullopt;
  Visit visit(map, tables, header.columns);
  const std::string current = keyOf(*ready);
  const std::string place = "row " + std::to_string(ready->row.number);
  const bool follows = !current.empty() && current == cut;
  if (apart.contains(shortKey(current))) visit.refuse(issue(tables.rule("csv-apart"), place));
  if (doubtful) visit.refuse(issue(tables.rule("csv-neighbour"), place));
  takeInto(visit, *std::move(ready));
  gather(visit, current);
  if (follows || (!current.empty() && current == cut)) {
    visit.refuse(
        issue(tables.rule("csv-visit-long"), place, {{"limit", std::to_string(kVisitLimit)}}));
  }
  return yield(visit);
}

std::optional<intake::Text> Reader::next() {
  State& state = *state_;
  if (state.over) return std::nullopt;
  if (!state.started) {
    if (std::optional<intake::Text> fault = state.readAhead()) {
      state.over = true;
      return fault;
    }
  }
  std::optional<intake::Text> out =
      state.map.rows == RowMeaning::Assessment ? state.oneRow() : state.manyRows();
  state.over = !out;
  if (!out && !state.told) return state.refusal({issue(state.tables.rule("csv-no-rows"), "")});
  state.told = true;
  return out;
}

}  // namespace footbridge::csv
