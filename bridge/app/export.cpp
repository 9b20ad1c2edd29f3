#include <ostream>

#include "app/coded_rows.hpp"
#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

/// A cell by RFC 4180.
std::string quoted(const std::string& cell) {
  if (cell.find_first_of(",\"\r\n") == std::string::npos) return cell;
  std::string out = "\"";
  for (const char c : cell) {
    if (c == '"') out += c;
    out += c;
  }
  return out + '"';
}

template <class Cells>
std::string csvLine(const Cells& cells) {
  std::string out;
  for (const auto& cell : cells) (out += quoted(std::string(cell))) += ',';
  out.pop_back();
  return out + "\r\n";
}

/// Empty cells are left out: what is not there is no empty text.
std::string jsonLine(const CodedRow& row) {
  json::Writer out;
  out.beginObject();
  for (std::size_t i = 0; i < row.size(); ++i) {
    if (!row[i].empty()) out.member(kColumns[i], row[i]);
  }
  out.endObject();
  return std::string(out.text()) + '\n';
}

}  // namespace

int exportRows(const ExportOptions& options, World& world) {
  std::error_code ignored;
  const bool there = std::filesystem::exists(options.keyFile, ignored);
  const Result<Sealer> sealer = Sealer::fromKeyFile(options.keyFile, Sealer::Absent::Create);
  if (!sealer) {
    for (const Issue& issue : sealer.issues()) printIssue(world.err, issue);
    return kUsage;
  }
  if (!there) {
    world.err << "A new key was made: " << options.keyFile.string()
              << ". Pseudonyms are alike only under one key: keep it, and keep it apart.\n";
  }
  const RowMaker maker(world.tables, *sealer);
  const bool csv = options.as == "csv";
  if (csv) world.out << csvLine(kColumns);
  std::size_t rows = 0;
  const Tally tally = forEachOutcome(options.input, world, [&](const Done& done) {
    if (done.outcome.refused()) return printOutcome(world.err, done.outcome);
    for (const CodedRow& row : maker.rowsOf(done.outcome)) {
      world.out << (csv ? csvLine(row) : jsonLine(row));
      ++rows;
    }
  });
  world.out.flush();
  world.err << rows << " rows of " << tally.accepted << " assessments, " << tally.setAside
            << " set aside; tables SHA-256 " << world.tables.digest << '\n';
  return world.out ? tally.exitCode() : kOwnFailure;
}

}  // namespace footbridge::app
