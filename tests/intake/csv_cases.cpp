#include "csv_cases.hpp"

#include <gtest/gtest.h>

#include <array>
#include <sstream>

#include "csv/reader.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kHead = R"(format = "footbridge-source-map-1"
base = "https://clinic.example"

[defaults]
status = "final"
organization = { name = "Clinic" }

[words]
"NP" = { absent = "not-performed" }
"tri" = "triphasic"
)";

constexpr std::string_view kVisitsMap = R"(
[file]
date = "dd/mm/yyyy"
zone = "Europe/London"

[columns]
"Visit" = "identifier"
"No" = "patient.identifiers"
"Name" = "patient.name"
"Born" = "patient.birthDate"
"Date" = "measuredAt.date"
"Time" = "measuredAt.time"
"By" = "performer.name"
"R DP" = "legs.right.ankle.dorsalisPedis"
"R wave" = "legs.right.doppler.dorsalisPedis"
"R pulse" = { to = "legs.right.pulses.femoral", scale = "0-3" }
)";

constexpr std::string_view kVisits =
    "Visit,No,Name,Born,Date,Time,By,R DP,R wave,R pulse\n"
    "V1,P1,\"Invented, Ada\",12/04/1951,05/10/2026,10:20,B. Nurse,112,tri,2+\n";

constexpr std::string_view kReadingsMap = R"(
[file]
rows = "reading"
delimiter = ";"
decimal = ","
date = "yyyy-mm-dd"
zone = "Europe/London"

[columns]
"Visit" = "identifier"
"No" = "patient.identifiers"
"When" = "measuredAt"
"By" = "performer.name"
"What" = "reading.item"
"Side" = "reading.side"
"Value" = "reading.value"
"Unit" = "reading.unit"
"Remark" = "reading.note"

[reading.sides]
"re" = "right"
"li" = "left"

[reading.items]
"Arm" = "arms.{side}.systolic"
"DP" = "legs.{side}.ankle.dorsalisPedis"
"L PT" = "legs.left.ankle.posteriorTibial"
"Posture" = "conditions.posture"
)";

constexpr std::string_view kReadings =
    "Visit;No;When;By;What;Side;Value;Unit;Remark\n"
    "V1;P1;2026-10-05 10:20;B. Nurse;Arm;re;17,6;kPa;\n"
    "V1;P1;2026-10-05 10:20;B. Nurse;DP;li;112;mmHg;\n"
    "V2;P2;2026-10-05 11:20;B. Nurse;Arm;re;138;mmHg;\n";

constexpr auto kVisitsOf = CsvCase::Layout::Visits;
constexpr auto kReadingsOf = CsvCase::Layout::Readings;

std::vector<CsvCase> fileCases() {
  constexpr std::string_view kRfc = "RFC 4180 section 2";
  constexpr std::string_view kMark = "RFC 3629 section 6";
  return {
      {"cells too few", "csv-cells-few", kFires, "row 2", kVisitsOf, {}, {{",2+", ""}}, kRfc},
      {"cells too many",
       "csv-cells-many",
       kFires,
       "row 2",
       kVisitsOf,
       {},
       {{",2+", ",2+,x"}},
       kRfc},
      {"blank cells too many",
       "csv-cells-many",
       kFires,
       "row 2",
       kVisitsOf,
       {},
       {{",2+", ",2+,, ,"}},
       kRfc},
      {"readings pushed to the right over an empty last cell",
       "csv-cells-many",
       kFires,
       "row 2",
       kVisitsOf,
       {},
       {{",112,tri,2+", ",,112,tri,"}},
       kRfc},
      {"a separator at the end of header and row",
       "csv-cells-many",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"R pulse", "R pulse,"}, {",2+", ",2+,"}},
       kRfc},
      {"a cell under a heading that is blank",
       "csv-cells-many",
       kFires,
       "row 2",
       kVisitsOf,
       {},
       {{"R pulse", "R pulse,"}, {",2+", ",2+,x"}},
       kRfc},
      {"a separator at the end of the header alone",
       "csv-cells-few",
       kFires,
       "row 2",
       kVisitsOf,
       {},
       {{"R pulse", "R pulse,"}},
       kRfc},
      {"a last cell that is empty", "csv-cells-few", kSilent, "", kVisitsOf, {}, {{",2+", ","}}},
      {"a missing column",
       "csv-column-missing",
       kFires,
       "row 1",
       kVisitsOf,
       {},
       {{",R DP,", ","}, {",112,", ","}}},
      {"columns in another order",
       "csv-column-missing",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"Visit,No", "No,Visit"}}},
      {"a column twice",
       "csv-column-twice",
       kFires,
       "row 1",
       kVisitsOf,
       {},
       {{"R pulse", "R pulse,No"}, {"2+", "2+,P1"}}},
      {"a column not read",
       "csv-column-unread",
       kFires,
       "row 1",
       kVisitsOf,
       {},
       {{"R pulse", "R pulse,ABI"}, {"2+", "2+,0.9"}}},
      {"a column to be ignored",
       "csv-column-unread",
       kSilent,
       "",
       kVisitsOf,
       {{"\"Visit\" =", "\"ABI\" = \"ignore\"\n\"Visit\" ="}},
       {{"R pulse", "R pulse,ABI"}, {"2+", "2+,0.9"}}},
      {"a column twice that is not read",
       "csv-column-twice",
       kSilent,
       "",
       kVisitsOf,
       {{"\"Time\" = \"measuredAt.time\"", "\"Time\" = \"measuredAt.time\""}},
       {}},
      {"bytes that are no UTF-8",
       "csv-encoding",
       kFires,
       "row 2, column 'By'",
       kVisitsOf,
       {},
       {{"B. Nurse", "B. N\xFCrse"}}},
      {"the same bytes as Windows-1252",
       "csv-encoding",
       kSilent,
       "",
       kVisitsOf,
       {{"[file]", "[file]\nencoding = \"windows-1252\""}},
       {{"B. Nurse", "B. N\xFCrse"}}},
      {"a byte that Windows-1252 has not",
       "csv-encoding",
       kFires,
       "row 2, column 'By'",
       kVisitsOf,
       {{"[file]", "[file]\nencoding = \"windows-1252\""}},
       {{"B. Nurse", "B. N\x81rse"}}},
      {"a NUL in a cell",
       "csv-encoding",
       kFires,
       "row 2, column 'By'",
       kVisitsOf,
       {},
       {{"B. Nurse", std::string("B.\0Nurse", 8)}}},
      {"a quotation mark left open",
       "csv-quote-open",
       kFires,
       "row 2",
       kVisitsOf,
       {},
       {{"\"Invented, Ada\"", "\"Invented"}},
       kRfc},
      {"a quotation mark in a cell",
       "csv-quote-open",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"B. Nurse", "B. \"Nurse\""}}},
      {"a cell that goes on behind its quotation mark",
       "csv-quote-after",
       kFires,
       "row 2",
       kVisitsOf,
       {},
       {{"Ada\"", "Ada\" May"}},
       kRfc},
      {"a quotation mark written twice",
       "csv-quote-after",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"Ada\"", "Ada \"\"May\"\"\""}},
       kRfc},
      {"a row without end",
       "csv-row-long",
       kFires,
       "row 2",
       kVisitsOf,
       {},
       {{"B. Nurse", std::string(300'000, 'x')}}},
      {"a long cell",
       "csv-row-long",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"B. Nurse", std::string(200, 'x')}}},
      {"UTF-16",
       "csv-utf16",
       kFires,
       "row 1",
       kVisitsOf,
       {},
       {{"Visit,", std::string("\xFF\xFEV\0i\0", 6)}}},
      {"UTF-16 without its mark",
       "csv-utf16",
       kFires,
       "row 1",
       kVisitsOf,
       {},
       {{"Visit,", std::string("V\0i\0", 4)}}},
      {"UTF-16 without its mark, the other way round",
       "csv-utf16",
       kFires,
       "row 1",
       kVisitsOf,
       {},
       {{"Visit,", std::string("\0V\0i", 4)}}},
      {"a NUL in the header",
       "csv-encoding",
       kFires,
       "row 1, column 11",
       kVisitsOf,
       {},
       {{"R pulse", std::string("R pulse,A\0", 10)}, {",2+", ",2+,x"}}},
      {"a mark that the map contradicts",
       "csv-mark",
       kFires,
       "row 1",
       kVisitsOf,
       {{"[file]", "[file]\nencoding = \"windows-1252\""}},
       {{"Visit,", "\xEF\xBB\xBFVisit,"}},
       kMark},
      {"the same before the line of the separator",
       "csv-mark",
       kFires,
       "row 1",
       kVisitsOf,
       {{"[file]", "[file]\nencoding = \"windows-1252\""}},
       {{"Visit,", "\xEF\xBB\xBFsep=,\nVisit,"}},
       kMark},
      {"a mark that the map agrees with",
       "csv-mark",
       kSilent,
       "",
       kVisitsOf,
       {{"[file]", "[file]\nencoding = \"utf-8\""}},
       {{"Visit,", "\xEF\xBB\xBFVisit,"}},
       kMark},
      {"a byte-order mark",
       "csv-utf16",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"Visit,", "\xEF\xBB\xBFVisit,"}}},
      {"no header", "intake-nothing", kFires, "", kVisitsOf, {}, {{"", "\n\n ,,\n"}}},
      {"a header and no rows",
       "csv-no-rows",
       kFires,
       "",
       kVisitsOf,
       {},
       {{"", "Visit,No,Name,Born,Date,Time,By,R DP,R wave,R pulse\n,,\n"}}},
      {"a header and no rows of one reading",
       "csv-no-rows",
       kFires,
       "",
       kReadingsOf,
       {},
       {{"", "Visit;No;When;By;What;Side;Value;Unit;Remark\n"}}},
      {"a header and a row", "csv-no-rows", kSilent, "", kVisitsOf, {}, {}},
  };
}

std::vector<CsvCase> cellCases() {
  constexpr std::string_view kZones = "IANA time-zone database";
  return {
      {"the thirtieth of February",
       "csv-date",
       kFires,
       "row 2, column 'Date'",
       kVisitsOf,
       {},
       {{"05/10/2026", "30/02/2026"}}},
      {"a month for a day",
       "csv-date",
       kFires,
       "row 2, column 'Born'",
       kVisitsOf,
       {},
       {{"12/04/1951", "04/13/1951"}}},
      {"a day with midnight",
       "csv-date",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"05/10/2026", "05/10/2026 00:00:00"}}},
      {"no day",
       "csv-day-missing",
       kFires,
       "row 2, column 'Time'",
       kVisitsOf,
       {},
       {{"05/10/2026", ""}}},
      {"a day", "csv-day-missing", kSilent, "", kVisitsOf, {}, {{"05/10/2026", "5/10/2026"}}},
      {"no time",
       "csv-time-missing",
       kFires,
       "row 2, column 'Date'",
       kVisitsOf,
       {},
       {{"10:20", ""}}},
      {"a time stated for all",
       "csv-time-missing",
       kSilent,
       "",
       kVisitsOf,
       {{"[file]", "[file]\ntime = \"12:00\""}},
       {{"10:20", ""}}},
      {"a time that is none",
       "csv-time",
       kFires,
       "row 2, column 'Time'",
       kVisitsOf,
       {},
       {{"10:20", "25:20"}}},
      {"a time in the afternoon", "csv-time", kSilent, "", kVisitsOf, {}, {{"10:20", "2:20 pm"}}},
      {"a stated time that is none",
       "csv-time",
       kFires,
       "line 13, file time",
       kVisitsOf,
       {{"[file]", "[file]\ntime = \"noon\""}},
       {}},
      {"the hour that is left out",
       "csv-gap",
       kFires,
       "row 2, column 'Time'",
       kVisitsOf,
       {},
       {{"05/10/2026", "29/03/2026"}, {"10:20", "01:30"}},
       kZones},
      {"the hour after it",
       "csv-gap",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"05/10/2026", "29/03/2026"}, {"10:20", "02:00"}},
       kZones},
      {"the hour that comes twice",
       "csv-overlap",
       kFires,
       "row 2, column 'Time'",
       kVisitsOf,
       {},
       {{"05/10/2026", "25/10/2026"}, {"10:20", "01:30"}},
       kZones},
      {"the same, settled by the map",
       "csv-overlap",
       kSilent,
       "",
       kVisitsOf,
       {{"[file]", "[file]\noverlap = \"later\""}},
       {{"05/10/2026", "25/10/2026"}, {"10:20", "01:30"}},
       kZones},
      {"a comma for a point",
       "csv-decimal",
       kFires,
       "row 2, column 'R DP'",
       kVisitsOf,
       {},
       {{",112,", ",\"112,5\","}}},
      {"a point", "csv-decimal", kSilent, "", kVisitsOf, {}, {{",112,", ",112.5,"}}},
      {"a word that is no number",
       "csv-number",
       kFires,
       "row 2, column 'R DP'",
       kVisitsOf,
       {},
       {{",112,", ",high,"}}},
      {"a number of too many digits",
       "csv-number",
       kFires,
       "row 2, column 'R DP'",
       kVisitsOf,
       {},
       {{",112,", ",1234567890123456,"}}},
      {"a word that the map explains",
       "csv-number",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{",112,", ",np,"}}},
      {"a number of a spreadsheet",
       "csv-scientific",
       kFires,
       "row 2, column 'No'",
       kVisitsOf,
       {},
       {{"P1", "9.99E+09"}}},
      {"a number with a letter", "csv-scientific", kSilent, "", kVisitsOf, {}, {{"P1", "9E9X"}}},
      {"two pressures",
       "csv-two-numbers",
       kFires,
       "row 2, column 'R DP'",
       kVisitsOf,
       {},
       {{",112,", ",120/80,"}}},
      {"a bound", "csv-two-numbers", kSilent, "", kVisitsOf, {}, {{",112,", ",>300,"}}},
      {"another unit",
       "csv-unit",
       kFires,
       "row 2, column 'R DP'",
       kVisitsOf,
       {},
       {{",112,", ",14.9 kPa,"}}},
      {"the unit written out", "csv-unit", kSilent, "", kVisitsOf, {}, {{",112,", ",112 mmHg,"}}},
      {"a word unknown",
       "csv-word",
       kFires,
       "row 2, column 'R wave'",
       kVisitsOf,
       {},
       {{",tri,", ",trip,"}}},
      {"a word of ours",
       "csv-word",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{",tri,", ",Monophasic Damped,"}}},
      {"a name without comma",
       "csv-name",
       kFires,
       "row 2, column 'Name'",
       kVisitsOf,
       {},
       {{"\"Invented, Ada\"", "Ada Invented"}}},
      {"a family name alone",
       "csv-name",
       kSilent,
       "",
       kVisitsOf,
       {},
       {{"Invented, Ada", "Invented,"}}},
  };
}

std::vector<CsvCase> readingRowCases() {
  const Swap again{"V2;P2;2026-10-05 11:20;B. Nurse;Arm;re;138;mmHg;\n",
                   "V2;P2;2026-10-05 11:20;B. Nurse;Arm;re;138;mmHg;\n"
                   "V2;P2;2026-10-05 11:20;B. Nurse;DP;re;120;mmHg;\n"};
  return {
      {"rows together", "csv-apart", kSilent, "", kReadingsOf, {}, {again}},
      {"two days for one visit",
       "csv-disagree",
       kFires,
       "row 3, column 'When'",
       kReadingsOf,
       {},
       {{"2026-10-05 10:20;B. Nurse;DP", "2026-10-06 10:20;B. Nurse;DP"}}},
      {"one day for two visits",
       "csv-disagree",
       kSilent,
       "",
       kReadingsOf,
       {},
       {{"11:20", "10:20"}}},
      {"a reading unknown",
       "csv-item",
       kFires,
       "row 3, column 'What'",
       kReadingsOf,
       {},
       {{";DP;", ";DPP;"}}},
      {"a reading in another case", "csv-item", kSilent, "", kReadingsOf, {}, {{";DP;", ";dp;"}}},
      {"a reading without name",
       "csv-item-missing",
       kFires,
       "row 3, column 'Value'",
       kReadingsOf,
       {},
       {{";DP;", ";;"}}},
      {"a row of the visit alone",
       "csv-item-missing",
       kSilent,
       "",
       kReadingsOf,
       {},
       {{";DP;li;112;mmHg;", ";;;;;"}}},
      {"a row without visit",
       "csv-key-missing",
       kFires,
       "row 2",
       kReadingsOf,
       {},
       {{"V1;P1;2026-10-05 10:20;B. Nurse;DP;li;112;mmHg;\n", ""},
        {"V1;P1;2026-10-05 10:20;B. Nurse;Arm;re;17,6;kPa;\n", ""},
        {"V2;P2", ";P2"}}},
      {"rows with their visit", "csv-key-missing", kSilent, "", kReadingsOf, {}, {again}},
      {"a reading twice",
       "csv-reading-twice",
       kFires,
       "row 3, column 'Value'",
       kReadingsOf,
       {},
       {{";DP;li;", ";Arm;re;"}}},
      {"both sides", "csv-reading-twice", kSilent, "", kReadingsOf, {}, {{";DP;li;", ";Arm;li;"}}},
      {"no side",
       "csv-side",
       kFires,
       "row 3, column 'What'",
       kReadingsOf,
       {},
       {{";DP;li;", ";DP;;"}}},
      {"a side unknown",
       "csv-side",
       kFires,
       "row 3, column 'Side'",
       kReadingsOf,
       {},
       {{";DP;li;", ";DP;both;"}}},
      {"a side against the name",
       "csv-side",
       kFires,
       "row 3, column 'Side'",
       kReadingsOf,
       {},
       {{";DP;li;", ";L PT;re;"}}},
      {"a side in the name alone",
       "csv-side",
       kSilent,
       "",
       kReadingsOf,
       {},
       {{";DP;li;", ";L PT;;"}}},
      {"a unit that is none of the item",
       "csv-unit",
       kFires,
       "row 3, column 'Unit'",
       kReadingsOf,
       {},
       {{"112;mmHg", "112;cm"}}},
      {"rows enough", "csv-visit-long", kSilent, "", kReadingsOf, {}, {again}},
  };
}

std::vector<CsvCase> mapCases() {
  return {
      {"no TOML",
       "toml-syntax",
       kFires,
       "line 2",
       kVisitsOf,
       {{"base = ", "base "}},
       {},
       "toml.io v1.0.0"},
      {"a comment", "toml-syntax", kSilent, "", kVisitsOf, {{"[file]", "# theirs\n[file]"}}, {}},
      {"another format",
       "csv-map-format",
       kFires,
       "line 1, format",
       kVisitsOf,
       {{"map-1", "map-2"}},
       {}},
      {"the format", "csv-map-format", kSilent, "", kVisitsOf, {}, {}},
      {"no base",
       "csv-map-base",
       kFires,
       "line 17, columns No",
       kVisitsOf,
       {{"base = \"https://clinic.example\"\n", ""},
        {"\"identifier\"", "{ to = \"identifier\", system = \"urn:x\" }"}},
       {}},
      {"systems instead of a base",
       "csv-map-base",
       kSilent,
       "",
       kVisitsOf,
       {{"base = \"https://clinic.example\"\n", ""},
        {"\"identifier\"", "{ to = \"identifier\", system = \"urn:x\" }"},
        {"\"patient.identifiers\"", "{ to = \"patient.identifiers\", system = \"urn:x\" }"}},
       {}},
      {"no performer",
       "csv-map-needs",
       kFires,
       "line 1",
       kVisitsOf,
       {{"\"By\" = \"performer.name\"\n", ""}},
       {}},
      {"a performer for all",
       "csv-map-needs",
       kSilent,
       "",
       kVisitsOf,
       {{"\"performer.name\"", "\"ignore\""},
        {"status = \"final\"", "status = \"final\"\nperformer = { name = \"B. Nurse\" }"}},
       {}},
      {"no pattern of days",
       "csv-map-no-date",
       kFires,
       "line 20, columns Date",
       kVisitsOf,
       {{"date = \"dd/mm/yyyy\"\n", ""},
        {"\"patient.birthDate\"", "{ to = \"patient.birthDate\", date = \"dd/mm/yyyy\" }"}},
       {}},
      {"a pattern for each",
       "csv-map-no-date",
       kSilent,
       "",
       kVisitsOf,
       {{"date = \"dd/mm/yyyy\"\n", ""},
        {"\"patient.birthDate\"", "{ to = \"patient.birthDate\", date = \"dd/mm/yyyy\" }"},
        {"\"measuredAt.date\"", "{ to = \"measuredAt.date\", date = \"d/m/yyyy\" }"}},
       {}},
      {"a unit of a word",
       "csv-map-option",
       kFires,
       "line 25, columns R wave unit",
       kVisitsOf,
       {{"\"legs.right.doppler.dorsalisPedis\"",
         "{ to = \"legs.right.doppler.dorsalisPedis\", unit = \"kPa\" }"}},
       {}},
      {"a unit of a pressure",
       "csv-map-option",
       kSilent,
       "",
       kVisitsOf,
       {{"\"legs.right.ankle.dorsalisPedis\"",
         "{ to = \"legs.right.ankle.dorsalisPedis\", unit = \"mmHg\" }"}},
       {}},
      {"a place that is none",
       "csv-map-path",
       kFires,
       "line 24, columns R DP",
       kVisitsOf,
       {{"legs.right.ankle", "legs.right.ancle"}},
       {}},
      {"another place",
       "csv-map-path",
       kSilent,
       "",
       kVisitsOf,
       {{"legs.right.ankle", "legs.left.ankle"}},
       {}},
      {"a pattern that is none",
       "csv-map-pattern",
       kFires,
       "line 21, columns Date date",
       kVisitsOf,
       {{"\"measuredAt.date\"", "{ to = \"measuredAt.date\", date = \"dd/mm\" }"}},
       {}},
      {"a pattern with names of months",
       "csv-map-pattern",
       kSilent,
       "",
       kVisitsOf,
       {{"dd/mm/yyyy", "dd mmm yyyy"}},
       {{"05/10/2026", "05 Oct 2026"}, {"12/04/1951", "12 April 1951"}}},
      {"two digits for a year of birth",
       "csv-map-short-year",
       kFires,
       "line 20, columns Born",
       kVisitsOf,
       {{"\"patient.birthDate\"", "{ to = \"patient.birthDate\", date = \"dd/mm/yy\" }"}},
       {}},
      {"two digits for a visit",
       "csv-map-short-year",
       kSilent,
       "",
       kVisitsOf,
       {{"\"measuredAt.date\"", "{ to = \"measuredAt.date\", date = \"dd/mm/yy\" }"}},
       {{"05/10/2026", "05/10/26"}}},
      {"a side left open",
       "csv-map-side",
       kFires,
       "line 24, columns R DP",
       kVisitsOf,
       {{"legs.right.ankle", "legs.{side}.ankle"}},
       {}},
      {"a side left open among readings", "csv-map-side", kSilent, "", kReadingsOf, {}, {}},
      {"a place twice",
       "csv-map-twice",
       kFires,
       "line 23, columns Time",
       kVisitsOf,
       {{"\"measuredAt.time\"", "\"patient.birthDate\""}, {"[file]", "[file]\ntime = \"12:00\""}},
       {}},
      {"two numbers of the patient",
       "csv-map-twice",
       kSilent,
       "",
       kVisitsOf,
       {{"\"Visit\" =", "\"Old no\" = \"patient.identifiers\"\n\"Visit\" ="}},
       {{"R pulse", "R pulse,Old no"}, {"2+", "2+,P0"}}},
      {"a word of nothing",
       "csv-map-word",
       kFires,
       "line 10, words tri",
       kVisitsOf,
       {{"\"triphasic\"", "\"threephasic\""}},
       {}},
      {"a word for nothing recorded",
       "csv-map-word",
       kSilent,
       "",
       kVisitsOf,
       {{"\"tri\" =", "\"-\" = \"\"\n\"tri\" ="}},
       {{",tri,", ",-,"}}},
      {"a zone that is none",
       "csv-map-zone",
       kFires,
       "line 14, file zone",
       kVisitsOf,
       {{"Europe/London", "Europe/Londres"}},
       {},
       "IANA time-zone database"},
      {"another zone",
       "csv-map-zone",
       kSilent,
       "",
       kVisitsOf,
       {{"Europe/London", "Asia/Kathmandu"}},
       {}},
  };
}

}  // namespace

std::ostream& operator<<(std::ostream& out, const CsvCase& value) { return out << value.name; }

std::span<const CsvCase> csvCases() {
  static const std::vector<CsvCase> kAll = [] {
    std::vector<CsvCase> all;
    for (const auto& part : {fileCases(), cellCases(), readingRowCases(), mapCases()}) {
      all.insert(all.end(), part.begin(), part.end());
    }
    return all;
  }();
  return kAll;
}

std::string goodMap(CsvCase::Layout layout) {
  return std::string(kHead) +
         std::string(layout == CsvCase::Layout::Visits ? kVisitsMap : kReadingsMap);
}

std::string goodTable(CsvCase::Layout layout) {
  return std::string(layout == CsvCase::Layout::Visits ? kVisits : kReadings);
}

std::string swapped(std::string text, const std::vector<Swap>& swaps) {
  for (const Swap& swap : swaps) {
    if (swap.from.empty()) {
      text = swap.to;
      continue;
    }
    std::size_t at = text.find(swap.from);
    EXPECT_NE(at, std::string::npos) << swap.from;
    for (; at != std::string::npos; at = text.find(swap.from, at + swap.to.size())) {
      text.replace(at, swap.from.size(), swap.to);
    }
  }
  return text;
}

Issues issuesOfTable(const std::string& map, const std::string& table) {
  const Result<csv::SourceMap> loaded = csv::loadSourceMap(map, tables());
  if (!loaded) return loaded.issues();
  std::istringstream in(table);
  csv::Reader reader(in, "table", *loaded, tables());
  Issues out;
  while (std::optional<intake::Text> text = reader.next()) {
    const bool broken = blocking(text->issues);
    append(out, text->issues);
    if (broken || !text->original) continue;
    Issues read = readBytes(text->bytes).issues;
    std::erase_if(read, [](const Issue& issue) { return issue.rule == "intake-converted"; });
    intake::relocate(read, *text->original, tables());
    append(out, std::move(read));
  }
  append(out, reader.notices());
  return out;
}

std::vector<std::string> textsOfTable(const std::string& map, const std::string& table) {
  const Result<csv::SourceMap> loaded = csv::loadSourceMap(map, tables());
  if (!loaded) {
    ADD_FAILURE() << listed(loaded.issues());
    return {};
  }
  std::istringstream in(table);
  csv::Reader reader(in, "table", *loaded, tables());
  std::vector<std::string> out;
  while (std::optional<intake::Text> text = reader.next()) {
    EXPECT_TRUE(text->issues.empty()) << listed(text->issues);
    out.push_back(text->bytes);
  }
  return out;
}

}  // namespace footbridge::test
