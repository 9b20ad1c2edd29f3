#include "app/set_aside.hpp"

#include <algorithm>
#include <sstream>
#include <utility>

#include "app/report.hpp"
#include "core/digest.hpp"
#include "core/file.hpp"

namespace footbridge::app {
namespace {

bool isDigest(std::string_view text) {
  return text.size() == 9 && text.front() == '.' &&
         text.find_first_not_of("0123456789abcdef", 1) == std::string_view::npos;
}

std::string withLineEnd(std::string_view bytes) {
  std::string out(bytes);
  if (!out.ends_with('\n')) out += '\n';
  return out;
}

/// How many rows a spreadsheet shows for these bytes, near enough to find one's place.
std::size_t lines(std::string_view bytes) {
  return static_cast<std::size_t>(std::count(bytes.begin(), bytes.end(), '\n'));
}

/// It holds patients' data in clear.
constexpr unsigned kOwnerOnly = 0600;

}  // namespace

std::string fileStem(std::string_view name, std::string_view distinct) {
  std::string out;
  for (const char c : name.substr(0, 80)) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                       c == '-' || c == '_' || c == '.';
    out += plain ? c : '-';
  }
  return out + "." + sha256(distinct).substr(0, 8);
}

std::string tableStem(std::string_view input) {
  std::string stem = std::filesystem::path(input).stem().string();
  if (stem.size() > 9 && isDigest(std::string_view(stem).substr(stem.size() - 9))) {
    stem.resize(stem.size() - 9);
  }
  return stem;
}

struct SetAsideRows::Table {
  std::string input;
  std::string stem;
  std::filesystem::path folder;
  GrowingFile rows;
  GrowingFile reasons;
  std::string digest;       ///< of all that was written, one piece after the other
  std::size_t nextRow = 2;  ///< in the file that is written

  Table(const std::filesystem::path& into, std::string_view from)
      : input(from),
        stem(tableStem(from)),
        folder(into),
        rows(into / (stem + ".csv"), {.mode = kOwnerOnly}),
        reasons(into / (stem + ".issues.txt"), {.mode = kOwnerOnly}) {}

  Issues write(std::string_view bytes) {
    digest = sha256(digest + sha256(bytes));
    return rows.append(bytes);
  }
};

SetAsideRows::SetAsideRows(std::filesystem::path folder) : folder_(std::move(folder)) {}
SetAsideRows::~SetAsideRows() = default;

Issues SetAsideRows::take(const intake::Original& original, const Outcome& outcome) {
  Issues issues;
  if (table_ == nullptr || table_->input != original.input) {
    issues = finish();
    makePrivateFolder(folder_);
    table_ = std::make_unique<Table>(folder_, original.input);
    append(issues, table_->write(withLineEnd(original.header)));
  }
  std::ostringstream reasons;
  reasons << original.place << " of " << table_->input << ", now from row " << table_->nextRow
          << " of the file beside this one\n";
  for (const Issue& issue : outcome.issues) {
    if (issue.severity != Severity::Information) printIssue(reasons, issue);
  }
  const std::string bytes = withLineEnd(original.rows);
  table_->nextRow += lines(bytes);
  append(issues, table_->write(bytes));
  append(issues, table_->reasons.append(reasons.str()));
  return issues;
}

Issues SetAsideRows::finish() {
  if (table_ == nullptr) return {};
  const std::string stem = fileStem(table_->stem, table_->digest);
  Issues issues = table_->rows.finish(table_->folder / (stem + ".csv"));
  append(issues, table_->reasons.finish(table_->folder / (stem + ".issues.txt")));
  table_.reset();
  return issues;
}

Issues SetAside::take(const intake::Text& text, const Outcome& outcome) {
  if (form_ == InputForm::Messages) return takeMessage(text, outcome);
  if (form_ == InputForm::Resources) return takeText(text.original->rows, outcome);
  if (text.original) return rows_.take(*text.original, outcome);
  if (form_ == InputForm::Tables) return takeTable(outcome);
  return takeText(text.bytes, outcome);
}

Issues SetAside::finish() {
  Issues issues = rows_.finish();
  if (std::exchange(unsynced_, false)) append(issues, syncDrive(folder_));
  return issues;
}

/// Many small files are synced once, since each sync takes longer than all the rest.
Issues SetAside::write(const std::string& name, std::string_view bytes) {
  makePrivateFolder(folder_);
  unsynced_ = true;
  return writeFileAtomically(folder_ / name, bytes, {.mode = kOwnerOnly, .synced = false});
}

/// One text as it came, and the reasons as a FHIR OperationOutcome.
Issues SetAside::takeText(std::string_view bytes, const Outcome& outcome) {
  const std::string stem = fileStem(std::filesystem::path(outcome.name).filename().string(), bytes);
  Issues issues = write(stem + ".json", bytes);
  append(issues, write(stem + ".issues.json", operationOutcome(outcome.issues) + "\n"));
  return issues;
}

/// A table of which no row could be read: it stays where it is, and the reasons are written.
Issues SetAside::takeTable(const Outcome& outcome) {
  std::ostringstream reasons;
  printVerdict(reasons, outcome);
  for (const Issue& issue : outcome.issues) printIssue(reasons, issue);
  const std::string stem = fileStem(tableStem(outcome.name), reasons.str());
  return write(stem + ".issues.txt", reasons.str());
}

/// The header and the segments of the assessment, byte for byte: a message that can be sent again.
Issues SetAside::takeMessage(const intake::Text& text, const Outcome& outcome) {
  std::ostringstream reasons;
  printVerdict(reasons, outcome);
  for (const Issue& issue : outcome.issues) printIssue(reasons, issue);
  const std::string bytes = text.original ? text.original->header + text.original->rows : "";
  const std::string stem =
      fileStem(std::filesystem::path(outcome.name).filename().string(), bytes + reasons.str());
  Issues issues = text.original ? write(stem + ".hl7", bytes) : Issues{};
  append(issues, write(stem + ".issues.txt", reasons.str()));
  return issues;
}

}  // namespace footbridge::app
