// headings.json: words by which a source map is proposed.

#include "tables/fields.hpp"

namespace footbridge::tables {
namespace {

HeadingRow readHeading(Fields row) {
  HeadingRow out;
  out.id = row.text("id");
  out.part = row.text("part");
  out.means = row.optionalText("means");
  out.kind = row.optionalText("kind");
  out.doubt = row.optionalText("doubt");
  out.clinical = row.optionalText("clinical") == "yes";
  out.system = row.optionalText("system");
  row.source();
  for (const json::Value& word : row.list("words")) {
    if (word.asString() != nullptr) out.words.push_back(*word.asString());
  }
  if (out.words.empty()) row.fault("words", "has no word");
  return out;
}

}  // namespace

void loadHeadings(const Files& files, Tables& tables, Issues& issues) {
  const json::Value file = parseFile(files, "headings.json", issues);
  for (const json::Value& row : Fields(file, "headings.json", issues).list("rows")) {
    tables.headings.push_back(
        readHeading({row, "headings.json " + std::string(row.text("id")), issues}));
  }
}

}  // namespace footbridge::tables
