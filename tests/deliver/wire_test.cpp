// Runs the scripts of tests/wire/: what is queued, what the server answers, what it should be
// asked, and in which state every row ends. The language of the scripts is told in
// tests/wire/README.md.

#include <gtest/gtest.h>
#include <unistd.h>

#include <chrono>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <map>
#include <optional>
#include <regex>
#include <sstream>

#include "deliver/sender.hpp"
#include "deliver/strategy.hpp"
#include "outbox/outbox.hpp"
#include "support/unzipped.hpp"
#include "support/wire_server.hpp"

namespace footbridge {
namespace {

using outbox::Outbox;
using std::chrono::milliseconds;

struct WantedState {
  std::string value;
  std::int32_t revision = 1;
  std::string state;
  std::int32_t attempts = 0;
  std::string reason;
};

struct Case {
  std::string name;
  std::string file;
  std::vector<outbox::Entry> queue;
  std::vector<test::WireAnswer> answers;
  std::vector<std::string> requests;
  std::vector<WantedState> states;
  std::string because;
  int connections = 1;
  config::ReadBack readBack = config::ReadBack::Always;
  config::Strategy strategy = config::Strategy::Auto;
  config::Gzip gzip = config::Gzip::Never;
  config::PatientBy patientBy = config::PatientBy::Bundle;
  std::optional<int> confirmedForMs;
  int atLeast = 0;
  int mostAtOnce = 0;
  bool unreachable = false;
  bool nobodyListens = false;
};

void PrintTo(const Case& value, std::ostream* out) { *out << value.name; }

std::string httpDate(int secondsFromNow) {
  const std::time_t when = std::time(nullptr) + secondsFromNow;
  std::tm parts{};
  ::gmtime_r(&when, &parts);
  std::array<char, 64> text{};
  std::strftime(text.data(), text.size(), "%a, %d %b %Y %H:%M:%S GMT", &parts);
  return text.data();
}

std::vector<int> numbers(std::istream& in) {
  std::vector<int> out;
  for (int each = 0; in >> each;) out.push_back(each);
  return out;
}

std::string rest(std::istream& in) {
  std::string out;
  std::getline(in >> std::ws, out);
  return out;
}

/// Patients as "ID BIRTHDATE FAMILY ACTIVE", a comma between two; - is not given.
std::string patientsOf(const std::string& text) {
  std::string out = R"({"resourceType":"Bundle","type":"searchset","entry":[)";
  std::istringstream all(text);
  for (std::string one; std::getline(all, one, ',');) {
    std::istringstream in(one);
    std::string id;
    std::string birth;
    std::string family;
    std::string active;
    in >> id >> birth >> family >> active;
    const bool replaced = active == "replaced";
    if (out.back() == '}') out += ',';
    out += R"({"resource":{"resourceType":"Patient","id":"at-)" + id +
           R"(","identifier":[{"system":"urn:nhs","value":")" + id + "\"}]";
    if (birth != "-") out += R"(,"birthDate":")" + birth + '"';
    if (family != "-") out += R"(,"name":[{"family":"Before"},{"family":")" + family + "\"}]";
    if (replaced) {
      out += R"(,"link":[{"other":{"reference":"Patient/9"},"type":"replaced-by"}])";
    } else if (!active.empty()) {
      out += ",\"active\":" + active;
    }
    out += "}}";
  }
  return out + "]}";
}

std::string observation(const std::string& value) {
  return R"({"resourceType":"Observation","status":"final","valueQuantity":{"value":)" + value +
         "}}";
}

/// A bundle of one Observation, updated by a later revision.
std::string observed(const outbox::Entry& entry, const std::string& value) {
  const std::string request =
      entry.revision > 1
          ? R"("method":"PUT","url":"Observation?identifier=x%7C)" + entry.value + '"'
          : R"("method":"POST","url":"Observation","ifNoneExist":"identifier=x%7C)" + entry.value +
                '"';
  return R"({"resourceType":"Bundle","entry":[{"fullUrl":"urn:uuid:)" + entry.value +
         R"(","resource":)" + observation(value) + R"(,"request":{)" + request + "}}]}";
}

/// Two Observations; the second one is named by what is added to the first one's name.
std::string observedTwice(const outbox::Entry& entry, const std::string& value) {
  outbox::Entry second = entry;
  second.value += "b";
  const std::string one = observed(entry, value);
  const std::string two = observed(second, value);
  const std::size_t begin = two.find('[') + 1;
  return one.substr(0, one.size() - 2) + "," + two.substr(begin);
}

/// "found ID SYSTEM VALUE ...": Observations that a search found.
std::string foundBy(std::istream& in) {
  std::string out = R"({"resourceType":"Bundle","type":"searchset","entry":[)";
  std::string id;
  std::string system;
  std::string value;
  while (in >> id >> system >> value) {
    if (out.back() == '}') out += ',';
    out += R"({"resource":{"resourceType":"Observation","id":")" + id +
           R"(","identifier":[{"system":")" + system + R"(","value":")" + value + "\"}]}}";
  }
  return out + "]}";
}

config::Strategy strategyOf(const std::string& name) {
  for (const deliver::StrategyRow& row : deliver::strategyTable()) {
    if (row.word == name) return row.strategy;
  }
  ADD_FAILURE() << "no strategy " << name;
  return config::Strategy::Auto;
}

/// "at PLACE ETAG": where the one resource was stored.
std::string storedAt(std::istream& in) {
  std::string place;
  std::string etag;
  in >> place >> etag;
  return R"({"resourceType":"Bundle","type":"transaction-response","entry":[{"response":)"
         R"({"status":"201","location":")" +
         place + R"(","etag":"W/\")" + etag + R"(\""}}]})";
}

/// "holds STATUS [VALUE]": what a batch of one read gave.
std::string holds(std::istream& in) {
  std::string status;
  std::string value;
  in >> status >> value;
  const std::string resource = value.empty() ? "" : R"("resource":)" + observation(value) + ",";
  return R"({"resourceType":"Bundle","type":"batch-response","entry":[{)" + resource +
         R"("response":{"status":")" + status + "\"}}]}";
}

std::string bodyOf(const std::string& text) {
  std::istringstream in(text);
  std::string kind;
  in >> kind;
  if (kind == "ok") {
    int count = 0;
    in >> count;
    return test::responseBundle("transaction-response", std::vector<int>(std::size_t(count), 201));
  }
  if (kind == "entries") {
    std::string type;
    in >> type;
    return test::responseBundle(type, numbers(in));
  }
  if (kind == "outcome") {
    return R"({"resourceType":"OperationOutcome","issue":[{"severity":"error","code":"invalid",)"
           R"("diagnostics":")" +
           rest(in) + "\"}]}";
  }
  if (kind == "search") {
    int count = 0;
    in >> count;
    std::string out = R"({"resourceType":"Bundle","type":"searchset")";
    if (count > 0) out += R"(,"entry":[{"resource":{"resourceType":"DiagnosticReport"}}])";
    return out + "}";
  }
  if (kind == "at") return storedAt(in);
  if (kind == "holds") return holds(in);
  if (kind == "found") return foundBy(in);
  if (kind == "reads") return observation(rest(in));
  if (kind == "patients") return patientsOf(rest(in));
  return kind == "raw" ? rest(in) : "";
}

test::WireAnswer answerOf(const std::string& line) {
  using Kind = test::WireAnswer::Kind;
  static const std::map<std::string, Kind> kKinds{{"drop-before", Kind::DropBefore},
                                                  {"drop-after", Kind::DropAfter},
                                                  {"half", Kind::Half},
                                                  {"slow", Kind::Slow},
                                                  {"huge", Kind::Huge}};
  std::istringstream in(line);
  std::string first;
  in >> first;
  if (const auto kind = kKinds.find(first); kind != kKinds.end()) {
    return {kind->second, 200, {}, bodyOf("ok 3"), 0};
  }
  test::WireAnswer out{Kind::Whole, std::stoi(first), {}, "", 0};
  std::string part;
  std::istringstream parts(rest(in));
  while (std::getline(parts, part, '|')) {
    part = part.substr(std::min(part.find_first_not_of(' '), part.size()));
    while (!part.empty() && part.back() == ' ') part.pop_back();
    if (const std::size_t date = part.find("@date+"); date != std::string::npos) {
      part = part.substr(0, date) + httpDate(std::stoi(part.substr(date + 6)));
    }
    if (part.starts_with("delay ")) {
      out.delayMs = std::stoi(part.substr(6));
      continue;
    }
    const bool header = part.find(": ") != std::string::npos && part[0] >= 'A' && part[0] <= 'Z';
    if (header) {
      out.headers.push_back(part);
    } else {
      out.body = bodyOf(part);
    }
  }
  return out;
}

outbox::Entry entryOf(std::istream& in) {
  outbox::Entry out;
  out.destination = "gp";
  out.system = "https://clinic.example/assessments";
  std::string check;
  in >> out.value >> out.revision >> out.patient >> out.resources >> check;
  if (!check.empty()) {
    using Check = outbox::Person::Check;
    in >> out.person.birthDate >> out.person.family;
    out.person.check = check == "may-exist" ? Check::MayExist : Check::MustExist;
    out.person.system = "urn:nhs";
    out.person.value = out.patient;
    out.person.query = "urn%3Anhs%7C" + out.patient;
    if (out.person.birthDate == "-") out.person.birthDate.clear();
    if (out.person.family == "-") out.person.family.clear();
  }
  out.sourceDigest = out.value + std::to_string(out.revision);
  out.bundle = R"({"visit":")" + out.value + " r" + std::to_string(out.revision) +
               R"(","request":{"method":"POST","url":"DiagnosticReport",)"
               R"("ifNoneExist":"identifier=urn%3Ax%7C)" +
               out.value + "\"}}";
  return out;
}

WantedState stateOf(std::istream& in) {
  WantedState out;
  in >> out.value >> out.revision >> out.state >> out.attempts;
  out.reason = rest(in);
  return out;
}

void readLine(const std::string& line, Case& out) {
  std::istringstream in(line);
  std::string word;
  in >> word;
  if (word == "queue") out.queue.push_back(entryOf(in));
  if (word == "answer") out.answers.push_back(answerOf(rest(in)));
  if (word == "request") out.requests.push_back(rest(in));
  if (word == "state") out.states.push_back(stateOf(in));
  if (word == "because") out.because = rest(in);
  if (word == "connections") in >> out.connections;
  if (word == "at-least-ms") in >> out.atLeast;
  if (word == "confirmed-for-ms") out.confirmedForMs = numbers(in).front();
  if (word == "most-at-once") in >> out.mostAtOnce;
  if (word == "instrument") {
    out.queue.back().bundle.insert(
        1, R"("first":{"url":"Device","ifNoneExist":"identifier=)" + rest(in) + "\"},");
  }
  if (word == "observed") {
    out.queue.back().bundle = observed(out.queue.back(), rest(in));
    out.queue.back().resources = 1;
  }
  if (word == "observed-twice") {
    out.queue.back().bundle = observedTwice(out.queue.back(), rest(in));
  }
  if (word == "strategy") out.strategy = strategyOf(rest(in));
  if (word == "gzip") {
    out.gzip = rest(in) == "always" ? config::Gzip::Always : config::Gzip::WhenOffered;
  }
  if (word == "patient-by-search") out.patientBy = config::PatientBy::Found;
  if (word == "refers") {
    const std::string query = out.queue.back().person.query;
    out.queue.back().bundle.insert(
        1, R"("subject":{"reference":"Patient?identifier=)" + query + "\"},");
  }
  if (word == "large") {
    out.queue.back().bundle.insert(1, "\"padding\":\"" + std::string(2'000, 'x') + "\",");
  }
  if (word == "read-back") {
    const std::string wanted = rest(in);
    if (wanted == "never") out.readBack = config::ReadBack::Never;
    if (wanted == "sample") out.readBack = config::ReadBack::Sample;
  }
  if (word == "unreachable") out.unreachable = true;
  if (word == "nobody-listens") out.nobodyListens = true;
}

std::vector<Case> casesOf(const std::filesystem::path& path) {
  std::vector<Case> out;
  std::ifstream in(path);
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line[0] == '#') continue;
    if (line.starts_with("case ")) {
      out.emplace_back();
      out.back().name = line.substr(5);
      out.back().file = path.stem().string();
    } else {
      readLine(line, out.back());
    }
  }
  return out;
}

std::vector<Case> allCases() {
  std::vector<Case> out;
  for (const auto& file : std::filesystem::directory_iterator(FOOTBRIDGE_WIRE_DIR)) {
    if (file.path().extension() != ".wire") continue;
    std::vector<Case> cases = casesOf(file.path());
    out.insert(out.end(), cases.begin(), cases.end());
  }
  std::sort(out.begin(), out.end(), [](const Case& a, const Case& b) { return a.name < b.name; });
  return out;
}

class WireTest : public ::testing::TestWithParam<Case> {
 protected:
  WireTest() { std::filesystem::create_directories(folder_); }
  ~WireTest() override { std::filesystem::remove_all(folder_); }

  static outbox::Time now() {
    return std::chrono::floor<milliseconds>(std::chrono::system_clock::now());
  }

  /// Each row by itself, so that their order is that of the script.
  static std::vector<deliver::Job> queued(Outbox& outbox, const Case& script) {
    EXPECT_TRUE(outbox.add(script.queue, now()));
    std::vector<deliver::Job> jobs;
    const std::vector<outbox::Row> rows = *outbox.list({"gp", outbox::State::Ready, 0, 0});
    for (const outbox::Row& row : rows) {
      jobs.push_back(deliver::jobOf(row));
    }
    return jobs;
  }

  static config::Server serverAt(int port, int connections) {
    config::Server out;
    out.base = "http://127.0.0.1:" + std::to_string(port);
    out.connections = connections;
    out.totalTime = milliseconds(400);
    out.backOff = {milliseconds(1)};
    return out;
  }

  static deliver::Patience patience(const config::Server& server) {
    deliver::Patience out;
    out.backOff = server.backOff;
    out.giveUpAfter = milliseconds(2'500);
    out.graceAtStop = milliseconds(1'000);
    out.seed = 1;
    return out;
  }

  std::filesystem::path folder_ =
      std::filesystem::temp_directory_path() / ("footbridge-wire-" + std::to_string(::getpid()));
};

/// "gzip:" or "plain:" and what the body holds; bodies of 1 KB and more are compressed.
std::string readable(const test::WireRequest& request) {
  if (request.head.find("Content-Encoding: gzip\r\n") == std::string::npos) {
    return "plain:" + request.body;
  }
  const std::optional<std::string> body = test::unzipped(request.body);
  return body ? "gzip:" + *body : "no gzip";
}

void compareRequests(const std::vector<test::WireRequest>& got, const Case& script) {
  ASSERT_EQ(got.size(), script.requests.size());
  for (std::size_t i = 0; i < got.size(); ++i) {
    std::istringstream in(script.requests[i]);
    std::string method;
    std::string path;
    in >> method >> path;
    EXPECT_EQ(got[i].method, method) << "request " << i;
    EXPECT_EQ(got[i].path, path) << "request " << i;
    const std::string visit = rest(in);
    const std::string body = readable(got[i]);
    EXPECT_NE(body.find(visit), std::string::npos) << "request " << i << ": " << body;
  }
}

void compareStates(Outbox& outbox, const Case& script) {
  const std::vector<outbox::Row> rows = *outbox.list({});
  ASSERT_EQ(rows.size(), script.states.size()) << "every row has to be in a wanted state";
  for (const WantedState& wanted : script.states) {
    const auto row = std::find_if(rows.begin(), rows.end(), [&](const outbox::Row& each) {
      return each.value == wanted.value && each.revision == wanted.revision;
    });
    ASSERT_NE(row, rows.end()) << wanted.value;
    EXPECT_EQ(word(row->state), wanted.state) << wanted.value << ": " << row->reason;
    EXPECT_TRUE(wanted.attempts < 0 || row->attempts == wanted.attempts)
        << wanted.value << ": " << row->attempts << " tries";
    EXPECT_NE(row->reason.find(wanted.reason), std::string::npos) << row->reason;
    // Delivered needs no reason; everything else that was tried says why it is not.
    const bool silent = row->state == outbox::State::Delivered ||
                        (row->state == outbox::State::Ready && row->attempts == 0);
    EXPECT_EQ(row->reason.empty(), silent) << wanted.value << ": " << row->reason;
  }
}

/// A random UUID (RFC 9562, version 4) for each request. The same content once more under the same
/// id is a repetition below the sender: on a new connection, or without compression.
void checkRequestIds(const std::vector<test::WireRequest>& got) {
  static const std::regex kId(
      "X-Request-Id: ([0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12})\r\n");
  std::map<std::string, std::string> seen;
  for (const test::WireRequest& each : got) {
    std::smatch found;
    ASSERT_TRUE(std::regex_search(each.head, found, kId)) << each.head;
    const std::string content = each.path + readable(each).substr(readable(each).find(':'));
    const auto [place, fresh] = seen.emplace(found[1], content);
    EXPECT_TRUE(fresh || place->second == content) << found[1];
  }
}

TEST_P(WireTest, EndsAsItShould) {
  const Case& script = GetParam();
  Outbox outbox = *Outbox::open(folder_ / "outbox.db",
                                *Sealer::fromKeyFile(folder_ / "key", Sealer::Absent::Create), 0);
  auto server = std::make_unique<test::WireServer>(script.answers);
  config::Server where = serverAt(server->port(), script.connections);
  where.readBack = script.readBack;
  where.strategy = script.strategy;
  where.gzip = script.gzip;
  where.patientBy = script.patientBy;
  if (script.nobodyListens) server = std::make_unique<test::WireServer>(script.answers);
  deliver::Patience patient = patience(where);
  if (script.confirmedForMs) patient.confirmedFor = milliseconds(*script.confirmedForMs);
  std::size_t told = 0;
  deliver::Sender sender(
      where, patient, outbox,
      [&told](const deliver::Event& event) { told += event.state != outbox::State::Ready; }, -1);
  sender.give(queued(outbox, script));
  sender.finish();
  const auto begin = std::chrono::steady_clock::now();
  const deliver::Outcome outcome = sender.run();
  EXPECT_GE(std::chrono::steady_clock::now() - begin, milliseconds(script.atLeast));
  EXPECT_TRUE(outcome.failures.empty());
  compareStates(outbox, script);
  if (!script.requests.empty()) compareRequests(server->requests(), script);
  EXPECT_NE(outcome.because.find(script.because), std::string::npos) << outcome.because;
  EXPECT_EQ(outcome.because.empty(), script.because.empty()) << outcome.because;
  EXPECT_EQ(outcome.unreachable, script.unreachable);
  EXPECT_LE(server->mostAtOnce(), script.connections);
  checkRequestIds(server->requests());
  if (script.mostAtOnce > 0) {
    EXPECT_EQ(server->mostAtOnce(), script.mostAtOnce);
  }
  EXPECT_EQ(told, outcome.delivered + outcome.refused + outcome.held);
}

INSTANTIATE_TEST_SUITE_P(Scripts, WireTest, ::testing::ValuesIn(allCases()),
                         [](const ::testing::TestParamInfo<Case>& tested) {
                           std::string out = tested.param.file + "_" + tested.param.name;
                           for (char& c : out) {
                             if (std::isalnum(static_cast<unsigned char>(c)) == 0) c = '_';
                           }
                           return out;
                         });

TEST_F(WireTest, TheReceiptNamesTheRequest) {
  Outbox outbox = *Outbox::open(folder_ / "outbox.db",
                                *Sealer::fromKeyFile(folder_ / "key", Sealer::Absent::Create), 0);
  const test::WireServer server({answerOf("200 | ok 3")});
  const config::Server where = serverAt(server.port(), 1);
  Case script;
  std::istringstream line("A-1 1 p1 3");
  script.queue.push_back(entryOf(line));
  std::string request;
  deliver::Sender sender(
      where, patience(where), outbox,
      [&request](const deliver::Event& event) { request = event.request; }, -1);
  sender.give(queued(outbox, script));
  sender.finish();
  ASSERT_EQ(sender.run().delivered, 1U);
  ASSERT_EQ(server.requests().size(), 1U);
  EXPECT_EQ(request.size(), 36U);
  EXPECT_NE(server.requests().front().head.find("X-Request-Id: " + request), std::string::npos);
  EXPECT_NE(outbox.list({})->front().receipt.find("\"request\":\"" + request + '"'),
            std::string::npos);
}

// A script that is not read tests nothing: every row of the answer table's statuses is in one.
TEST(WireScripts, AreAllThere) { EXPECT_GE(allCases().size(), 45U); }

}  // namespace
}  // namespace footbridge
