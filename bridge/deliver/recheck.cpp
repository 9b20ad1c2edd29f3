#include "deliver/recheck.hpp"

#include <algorithm>
#include <array>
#include <thread>

#include "deliver/compare.hpp"
#include "deliver/read_back.hpp"
#include "deliver/reads.hpp"
#include "deliver/strategy.hpp"
#include "json/value.hpp"

namespace footbridge::deliver {
namespace {

using std::chrono::milliseconds;

constexpr std::size_t kTries = 3;  // our choice, as the waits
constexpr std::array kWaits{milliseconds(1'000), milliseconds(5'000)};
constexpr std::chrono::seconds kLongestWait{60};  ///< of what Retry-After may ask for

/// Where everything was stored, by the receipt.
Verdict deliveredBy(std::string_view receipt) {
  Verdict out;
  out.act = Act::Done;
  const Result<json::Value> told = json::read(receipt);
  if (!told) return out;
  for (const json::Value& each : told->list("resources")) {
    Stored stored;
    stored.location = each.text("location");
    stored.etag = each.text("etag");
    out.stored.push_back(std::move(stored));
  }
  return out;
}

/// Whom the bundle's conditions name: the search by which the record finds its patient.
outbox::Person personOf(std::string_view bundle) {
  constexpr std::string_view kBegin = "\"reference\":\"Patient?identifier=";
  outbox::Person out;
  const std::size_t at = bundle.find(kBegin);
  if (at == std::string_view::npos) return out;
  const std::string_view rest = bundle.substr(at + kBegin.size());
  out.query = rest.substr(0, rest.find('"'));
  return out;
}

bool sameText(std::string_view a, std::string_view b) { return a == b; }

/// "Observation/12" where the record has it, else as it was looked for.
std::string placeOf(const json::Value& difference) {
  const json::Value* stored = difference.member("stored");
  if (stored == nullptr) return std::string(difference.text("resource"));
  return std::string(stored->text("resourceType")) + "/" + std::string(stored->text("id"));
}

/// False if the record held something else in this place when a person took it as it was. What was
/// not looked at then cannot be told to have changed.
bool taken(const json::Value& now, const json::Array& before) {
  const auto found = std::find_if(before.begin(), before.end(), [&now](const json::Value& each) {
    return each.text("resource") == now.text("resource") || placeOf(each) == placeOf(now);
  });
  if (found == before.end()) return true;
  const json::Value* then = found->member("stored");
  const json::Value* today = now.member("stored");
  if (then == nullptr || today == nullptr) return then == today;
  return compare(*then, *today, sameText).empty();
}

bool allTaken(const std::string& evidence, std::string_view receipt) {
  const Result<json::Value> now = json::read(evidence);
  const Result<json::Value> before = json::read(receipt);
  if (!now || !before || now->asArray() == nullptr) return false;
  const json::Array& known = before->list("differences");
  return std::all_of(now->asArray()->begin(), now->asArray()->end(),
                     [&known](const json::Value& each) { return taken(each, known); });
}

milliseconds waitBefore(std::size_t next, const config::Server& server, const Answer& answer) {
  const milliseconds asked =
      std::min(answer.retryAfter.value_or(std::chrono::seconds(0)), kLongestWait);
  if (server.backOff.empty()) return std::max(kWaits[next - 1], asked);
  return std::max(server.backOff[std::min(next, server.backOff.size()) - 1], asked);
}

}  // namespace

Recheck::Recheck(const config::Server& server)
    : server_(server),
      transport_(server, -1),
      tokens_(server),
      batchless_(readsSingly(server.strategy)) {}

/// A token that is good for a while, if tokens are asked for.
Issues Recheck::authorise() {
  if (tokens_.used()) {
    Result<std::string> token = tokens_.current(std::chrono::system_clock::now());
    if (!token) return token.issues();
    bearer_ = *std::move(token);
  } else if (!server_.bearerFile.empty()) {
    Result<std::string> token = readBearer(server_.bearerFile);
    if (!token) return token.issues();
    bearer_ = *std::move(token);
  }
  return {};
}

Answer Recheck::once(Request request) {
  request.bearer = bearer_;
  transport_.start(std::move(request));
  std::vector<Answer> answers;
  while (answers.empty()) answers = transport_.wait(std::chrono::seconds(1));
  return std::move(answers.front());
}

Answer Recheck::ask(const std::string& batch) {
  if (!batchless_) {
    Request request;
    request.method = "POST";
    request.body = batch;
    Answer answer = once(std::move(request));
    if (!refusesBatch(answer)) return answer;
    batchless_ = true;
  }
  Reads reads(batch);
  std::optional<Answer> whole;
  while (!whole) {
    Request request;
    request.path = reads.next();
    whole = reads.take(once(std::move(request)));
  }
  return *std::move(whole);
}

Looked Recheck::judge(const Answer& answer, const Delivered& what) {
  Verdict verdict =
      judgeReadBack(answer, what.bundle, deliveredBy(what.receipt), personOf(what.bundle));
  using How = Looked::How;
  if (verdict.act == Act::Done) return {How::Same, "", ""};
  if (verdict.evidence.empty()) {
    const bool silent = answer.wire != Wire::Answered;
    return {silent ? How::Unreachable : How::Unread, std::move(verdict.reason), ""};
  }
  const bool known =
      what.how == Delivered::How::Accepted && allTaken(verdict.evidence, what.receipt);
  return {known ? How::Accepted : How::Differs, std::move(verdict.reason),
          std::move(verdict.evidence)};
}

Looked Recheck::look(const Delivered& what) {
  const std::string batch =
      readBackRequest(what.bundle, deliveredBy(what.receipt), personOf(what.bundle));
  if (batch.empty()) return {Looked::How::Same, "", ""};
  Looked out;
  for (std::size_t next = 1; next <= kTries; ++next) {
    if (const Issues issues = authorise(); !issues.empty()) {
      return {Looked::How::Unreachable, issues.front().text + " " + issues.front().mend, ""};
    }
    const Answer answer = ask(batch);
    out = judge(answer, what);
    const bool again = out.how == Looked::How::Unread || out.how == Looked::How::Unreachable;
    if (!again || next == kTries) break;
    if (answer.status == 401) tokens_.forget();
    std::this_thread::sleep_for(waitBefore(next, server_, answer));
  }
  return out;
}

}  // namespace footbridge::deliver
