// `codes validate`: every standard coding of the catalogue held against a terminology server.

#include <array>
#include <ostream>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "core/file.hpp"
#include "core/text.hpp"
#include "deliver/address.hpp"
#include "deliver/terminology.hpp"
#include "deliver/transport.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

using deliver::CodeAnswer;
using deliver::Verdict;

/// A coding of a concept, and what the server said of it.
struct Row {
  const Concept* of;
  const Coding* coding;
  CodeAnswer answer;
};

std::vector<Row> rowsOf(const Tables& tables) {
  std::vector<Row> out;
  for (const Concept& row : tables.concepts) {
    for (const Coding& coding : row.codings) out.push_back({&row, &coding, {}});
  }
  return out;
}

void print(std::ostream& out, const Row& row, bool json) {
  const std::string_view sent = row.coding->verified ? "sent" : "never sent";
  if (!json) {
    out << word(row.answer.verdict) << '\t' << row.of->id << '\t' << row.coding->system << '|'
        << row.coding->code << '\t' << sent << '\t' << row.coding->display << '\t'
        << printable(row.answer.display) << '\t' << printable(row.answer.says) << '\n';
    return;
  }
  json::Writer line;
  line.beginObject().member("verdict", word(row.answer.verdict)).member("concept", row.of->id);
  line.member("system", row.coding->system).member("code", row.coding->code);
  line.name("sent").boolean(row.coding->verified).member("display", row.coding->display);
  line.member("serverDisplay", row.answer.display).member("serverSays", row.answer.says);
  out << line.endObject().text() << '\n';
}

/// A code that the server does not know or that is out of use is not sent any more. That a code is
/// active does not say that it means what we mean: an unverified one stays unverified.
void appendStamp(json::Writer& out, const Row& row, const std::string& when) {
  const Verdict verdict = row.answer.verdict;
  const bool good = verdict == Verdict::Active || verdict == Verdict::WrongDisplay;
  const bool renamed = verdict == Verdict::WrongDisplay && !row.answer.display.empty();
  out.beginObject().member("system", row.coding->system).member("code", row.coding->code);
  out.member("display", renamed ? row.answer.display : row.coding->display);
  out.member("status", good && row.coding->verified ? "verified" : "unverified");
  out.member("source",
             row.coding->source + "; " + when + ": " + std::string(word(row.answer.verdict)));
  out.endObject();
}

Issues writeStamp(const std::vector<Row>& rows, const CodesOptions& options, const World& world) {
  const std::string when = options.server + " on " + text(world.now).substr(0, 10);
  json::Writer out;
  out.beginObject().member("about", "Codes as a terminology server answered; for --codes.");
  out.name("rows").beginArray();
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const bool first = i == 0 || rows[i - 1].of != rows[i].of;
    const bool last = i + 1 == rows.size() || rows[i + 1].of != rows[i].of;
    if (first) {
      out.beginObject().member("concept", rows[i].of->id).member("mode", "add");
      out.name("codings").beginArray();
    }
    appendStamp(out, rows[i], when);
    if (last) out.endArray().endObject();
  }
  out.endArray().endObject();
  return writeFileAtomically(options.stamp, std::string(out.text()) + "\n");
}

Result<std::vector<CodeAnswer>> ask(const CodesOptions& options, const std::vector<Row>& rows) {
  if (!deliver::allowedBase(options.server)) {
    return Issue{Severity::Error,
                 IssueType::Value,
                 "terminology",
                 "",
                 "The address of the server has to be https, or http on this machine's loopback, "
                 "without user, password or query in it.",
                 "Give a token with --bearer-file."};
  }
  std::string bearer;
  if (!options.bearerFile.empty()) {
    const Result<std::string> read = deliver::readBearer(options.bearerFile);
    if (!read) return read.issues();
    bearer = *read;
  }
  std::vector<deliver::AskedCode> codes;
  codes.reserve(rows.size());
  for (const Row& row : rows) {
    codes.push_back({row.coding->system, row.coding->code, row.coding->display});
  }
  return deliver::askTerminology(deliver::serverAt(options.server), bearer, codes);
}

/// For people: how many of each. True if all that is sent is well.
bool tell(World& world, const std::vector<Row>& rows) {
  std::array<std::size_t, 4> count{};
  std::size_t wrong = 0;
  for (const Row& row : rows) {
    ++count[static_cast<std::size_t>(row.answer.verdict)];
    if (row.coding->verified && row.answer.verdict != Verdict::Active) ++wrong;
  }
  world.err << rows.size() << " codings:";
  for (std::size_t i = 0; i < count.size(); ++i) {
    world.err << (i == 0 ? " " : ", ") << count[i] << ' ' << word(static_cast<Verdict>(i));
  }
  world.err << "; " << wrong << " of those that are sent need looking at\n";
  return wrong == 0;
}

}  // namespace

int validateCodes(const CodesOptions& options, World& world) {
  std::vector<Row> rows = rowsOf(world.tables);
  const Result<std::vector<CodeAnswer>> answers = ask(options, rows);
  if (!answers) {
    const bool usage = answers.issues().front().severity < Severity::Fatal;
    return refuse(answers.issues(), world, usage ? kUsage : kUnreachable);
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    rows[i].answer = (*answers)[i];
    print(world.out, rows[i], options.json);
  }
  const bool well = tell(world, rows);
  if (!options.stamp.empty()) {
    const Issues issues = writeStamp(rows, options, world);
    if (!issues.empty()) return refuse(issues, world, kOwnFailure);
  }
  return well ? kWell : kSetAside;
}

}  // namespace footbridge::app
