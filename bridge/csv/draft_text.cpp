#include "csv/draft_text.hpp"

#include <algorithm>

#include "core/text.hpp"
#include "csv/source_map.hpp"
#include "json/writer.hpp"

namespace footbridge::csv {
namespace {

/// The quoting of JSON is that of TOML's basic strings.
std::string inQuotes(std::string_view text) {
  std::string out;
  json::appendQuoted(out, printable(text));
  return out;
}

std::string joined(const std::vector<std::string>& doubts) {
  std::string out;
  for (const std::string& doubt : doubts) out += (out.empty() ? "" : "; ") + doubt;
  return printable(out);
}

void addLine(std::string& out, const std::string& line, const std::string& doubt) {
  out += line + (doubt.empty() ? "" : "  # unsure: " + doubt) + "\n";
}

std::string wordsOf(const Guess& guess) {
  std::string out;
  for (const auto& [word, means] : guess.words) {
    out += (out.empty() ? "" : ", ") + inQuotes(word) + " = " + means;
  }
  return out.empty() ? out : ", words = { " + out + " }";
}

/// The value of a column: the path alone, or a table if there is more to say.
std::string valueOf(const Guess& guess, const std::string& fileDate) {
  std::string more;
  if (guess.unit == "kPa") more += ", unit = \"kPa\"";
  if (!guess.system.empty()) more += ", system = " + inQuotes(guess.system);
  if (!guess.date.empty() && guess.date != fileDate) more += ", date = " + inQuotes(guess.date);
  more += wordsOf(guess);
  if (more.empty() || guess.path == "ignore") return inQuotes(guess.path);
  return "{ to = " + inQuotes(guess.path) + more + " }";
}

const Guess* find(const Draft& draft, std::string_view start) {
  const auto found =
      std::find_if(draft.columns.begin(), draft.columns.end(),
                   [&](const Guess& guess) { return guess.path.starts_with(start); });
  return found == draft.columns.end() ? nullptr : &*found;
}

/// How days are written in the column of the visit.
std::string fileDate(const Draft& draft) {
  for (const std::string_view path : {"measuredAt", "patient.birthDate"}) {
    for (const Guess& guess : draft.columns) {
      if (guess.path.starts_with(path) && !guess.date.empty()) return guess.date;
    }
  }
  return "dd/mm/yyyy";
}

bool knowsNhs(const Draft& draft) {
  return std::any_of(draft.columns.begin(), draft.columns.end(), [](const Guess& guess) {
    return guess.system.find("nhs-number") != std::string::npos;
  });
}

void addFile(std::string& out, const Draft& draft) {
  const char delimiter = draft.sample->delimiter;
  out += "\n[file]\n";
  addLine(out, "delimiter = " + inQuotes(delimiter == '\t' ? "tab" : std::string(1, delimiter)),
          "");
  const bool utf8 = draft.sample->encoding == Encoding::Utf8;
  addLine(out, utf8 ? "encoding = \"utf-8\"" : "encoding = \"windows-1252\"",
          utf8 ? "" : "it is not UTF-8; look at names with accents");
  addLine(out, draft.rowIsReading ? "rows = \"reading\"" : "rows = \"assessment\"", "");
  addLine(out, draft.sample->decimalComma ? "decimal = \",\"" : "decimal = \".\"", "");
  addLine(out, "date = " + inQuotes(fileDate(draft)), "");
  addLine(out, knowsNhs(draft) ? "zone = \"Europe/London\"" : "zone = \"UTC\"",
          "whose clock are the times by?");
  if (find(draft, "measuredAt") != nullptr && find(draft, "measuredAt.time") == nullptr &&
      find(draft, "measuredAt.date") != nullptr) {
    addLine(out, "time = \"12:00\"", "no column for the time of day was found");
  }
  if (find(draft, "identifier") == nullptr) {
    addLine(out, "identify = \"patient-and-time\"",
            "no column with a number of the visit was found");
  }
}

void addDefaults(std::string& out, const Draft& draft) {
  out += "\n[defaults]\n";
  if (find(draft, "status") == nullptr) {
    addLine(out, "status = \"final\"", "are all rows signed off?");
  }
  if (find(draft, "organization") == nullptr) {
    addLine(out, "organization = { name = \"(name of the clinic)\" }", "write the name");
  }
  if (find(draft, "performer") == nullptr) {
    addLine(out, "performer = { name = \"(who measured)\" }", "write the name");
  }
}

void addWords(std::string& out, const Draft& draft) {
  if (draft.words.empty()) return;
  out += "\n[words]\n";
  for (const WordGuess& word : draft.words) {
    addLine(out, (word.commented ? "# " : "") + inQuotes(word.word) + " = " + word.means,
            printable(word.doubt));
  }
}

void addColumns(std::string& out, const std::vector<Guess>& guesses, const std::string& date) {
  std::vector<std::string> seen;
  for (const Guess& guess : guesses) {
    const std::string name = folded(printable(guess.column->name));
    const bool twice = std::find(seen.begin(), seen.end(), name) != seen.end();
    seen.push_back(name);
    std::string line = inQuotes(guess.column->name) + " = " + valueOf(guess, date);
    if (guess.path == "ignore" && !guess.reason.empty()) line += "  # " + guess.reason;
    addLine(out, (twice ? "# " : "") + line,
            twice ? "this name is there already" : joined(guess.doubts));
  }
}

}  // namespace

void Draft::addWord(WordGuess word) {
  const auto found = std::find_if(words.begin(), words.end(), [&word](const WordGuess& other) {
    return folded(printable(other.word)) == folded(printable(word.word));
  });
  if (found == words.end()) {
    words.push_back(std::move(word));
  } else if (found->means != word.means) {
    found->commented = true;
    found->doubt += (found->doubt.empty() ? "" : "; ") + std::string("elsewhere ") + word.means +
                    ": write it beside the columns";
  } else {
    found->commented = found->commented || word.commented;
  }
}

std::string textOf(const Draft& draft) {
  std::string out =
      "# Proposed by footbridge from the header and the first rows of the table.\n"
      "# Settle every line marked \"unsure\", then take the mark away. Check right and "
      "left against a\n# patient whose legs differ.\n";
  out += "format = \"footbridge-source-map-1\"\n";
  addLine(out, "name = " + inQuotes(draft.name), "");
  addLine(out, "base = \"https://clinic.example\"", "an address of the clinic's own");
  addFile(out, draft);
  addDefaults(out, draft);
  addWords(out, draft);
  const std::string date = fileDate(draft);
  out += "\n[columns]\n";
  addColumns(out, draft.columns, date);
  if (!draft.rowIsReading) return out;
  out += "\n[reading.items]\n";
  addColumns(out, draft.readings, date);
  return out;
}

}  // namespace footbridge::csv
