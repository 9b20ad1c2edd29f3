// What the service answers to each of its routes.

#include <charconv>
#include <sstream>

#include "app/deployment.hpp"
#include "app/openapi.hpp"
#include "app/replies.hpp"
#include "app/rows.hpp"
#include "app/service.hpp"
#include "core/digest.hpp"
#include "core/file.hpp"
#include "core/text.hpp"
#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

using serve::Head;
using serve::refusal;
using serve::Request;
using serve::Response;

constexpr std::size_t kPage = 1'000;      ///< rows or lines in one answer
constexpr std::size_t kToldOf = 20;       ///< assessments of one submission that the trail names
constexpr std::size_t kShownOfHash = 16;  ///< hexadecimal digits: enough to tell visits apart

std::optional<std::int64_t> whole(std::string_view text, std::int64_t otherwise) {
  if (text.empty()) return otherwise;
  std::int64_t out = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), out);
  if (read.ec != std::errc() || read.ptr != text.data() + text.size() || out < 0) {
    return std::nullopt;
  }
  return out;
}

Response noNumber(std::string_view name) {
  return refusal(400, IssueType::Value, std::string(name) + " has to be a whole number.", "");
}

}  // namespace

void Service::submit(Request& request, const std::function<void(Response)>& reply) {
  const Result<Submission::Form> form = formOf(request.head.field("content-type"));
  Submission submission;
  submission.body = std::move(request.body);
  submission.form = *form;
  submission.map = maps_.table(request.head.asked("map"));
  submission.names = maps_.resources(request.head.asked("map"));
  if (request.head.asked("dry-run") == "true") submission.aim = Submission::Aim::Try;
  submission.settled = [this, reply](const Settled& so) { reply(settled(so)); };
  if (desk_->submit(std::move(submission))) return;
  Response busy = refusal(503, IssueType::Throttled, "Too much is waiting to be stored.",
                          "Nothing was stored. Send it again later.");
  busy.fields.emplace_back("Retry-After", "5");
  reply(std::move(busy));
}

/// An assessment without saying which: equal for equal ones, nothing to those without the key.
std::string Service::opaque(const Item& item) const {
  if (item.value.empty()) return "unnamed";
  const std::string text = "trail-about\n" + item.system + "\n" + item.value;
  return hex(sealer_.keyedHash(text)).substr(0, kShownOfHash) + " r" +
         std::to_string(item.revision);
}

Response Service::settled(const Settled& so) {
  Response out = replyTo(so);
  std::size_t told = 0;
  for (const Item& item : so.items) {
    metrics_.count("footbridge_intake_assessments_total", word(item.fate));
    if (item.fate == Fate::Stored || item.fate == Fate::Known) alarms_.heard();
    if (++told > kToldOf) continue;
    if (!out.about.empty()) out.about += "; ";
    out.about += std::string(word(item.fate)) + " " + opaque(item);
    if (item.row != 0) out.about += " row " + std::to_string(item.row);
  }
  metrics_.count("footbridge_intake_assessments_total", word(Fate::Refused), so.unlisted);
  if (told > kToldOf) out.about += "; " + std::to_string(told - kToldOf) + " more";
  return out;
}

Response Service::answer(const Request& request, const Place& place) {
  switch (place.route) {
    case Route::Find:
      return find(request.head);
    case Route::Follow:
      return follow(place.row);
    case Route::Bundle:
      return bundle(place.row);
    case Route::Outbox:
      return outboxList(request.head);
    case Route::Retry:
    case Route::Release:
    case Route::Drop:
      return decide(request, place);
    case Route::Command:
      return command(request.body);
    case Route::Audit:
      return audit(request.head);
    case Route::Metrics: {
      Response out;
      out.type = "text/plain; version=0.0.4; charset=utf-8";
      out.body = metrics_.text();
      return out;
    }
    case Route::Openapi:
      return jsonReply(std::string(openapiText()));
    default:
      return health(place.route);
  }
}

Response Service::health(Route route) {
  if (route == Route::Live) return jsonReply(R"({"status":"alive"})");
  const bool ready = !stopping_ && !trailFailed_ && !alarms_.full();
  json::Writer out;
  out.beginObject().member("status", ready ? "ready" : "not ready").name("alarms").beginArray();
  for (const std::string& alarm : alarms_.on()) out.string(alarm);
  out.endArray().endObject();
  Response response = jsonReply(std::string(out.text()));
  response.status = ready ? 200 : 503;
  return response;
}

/// All deliveries of the assessment version that one of them is about.
Response Service::follow(std::int64_t row) {
  const Result<outbox::Row> first = outbox_.find(row);
  if (!first) return replyTo(first.issues());
  std::vector<outbox::Row> rows;
  for (const config::Destination& to : config_.destinations) {
    const auto other = outbox_.version(to.name, first->system, first->value, first->revision);
    if (!other) return replyTo(other.issues());
    if (*other) rows.push_back(**other);
  }
  if (rows.empty()) rows.push_back(*first);
  return jsonReply(rowsText(rows));
}

Response Service::find(const Head& head) {
  const std::string_view identifier = head.asked("identifier");
  const std::size_t bar = identifier.rfind('|');
  if (bar == std::string_view::npos) {
    return refusal(400, IssueType::Required, "Which assessment is asked for is not said.",
                   "?identifier=SYSTEM|VALUE, and &revision=N if it is not 1.");
  }
  const auto revision = whole(head.asked("revision"), 1);
  if (!revision) return noNumber("revision");
  std::vector<outbox::Row> rows;
  for (const config::Destination& to : config_.destinations) {
    const auto row = outbox_.version(to.name, std::string(identifier.substr(0, bar)),
                                     std::string(identifier.substr(bar + 1)),
                                     static_cast<std::int32_t>(*revision));
    if (!row) return replyTo(row.issues());
    if (*row) rows.push_back(**row);
  }
  if (!rows.empty()) return jsonReply(rowsText(rows));
  return refusal(404, IssueType::NotFound, "This version of the assessment was never taken.",
                 "If it was sent, it was refused, or did not arrive.");
}

Response Service::bundle(std::int64_t row) {
  const Result<std::string> payload = outbox_.payload(row);
  if (!payload) return replyTo(payload.issues());
  Response out;
  out.body = *payload;
  return out;
}

Response Service::outboxList(const Head& head) {
  const auto after = whole(head.asked("after"), 0);
  if (!after) return noNumber("after");
  const std::optional<outbox::State> state = outbox::stateOf(head.asked("state"));
  if (!state && !head.asked("state").empty()) {
    return refusal(400, IssueType::Value, "There is no such state.",
                   "ready, delivered, refused or held.");
  }
  const auto rows = outbox_.list({std::string(head.asked("to")), state, *after, kPage});
  if (!rows) return replyTo(rows.issues());
  return jsonReply(rowsText(*rows));
}

int Service::runCommand(const std::string& name, const OutboxOptions& options, std::string& out,
                        std::string& err) {
  std::istringstream none;
  std::ostringstream data;
  std::ostringstream messages;
  World world{none, data, messages, world_.now, world_.tables};
  int code = runOutbox(name, options, outbox_, world);
  if (options.check) {
    for (const std::string& alarm : alarms_.on()) {
      messages << "alarm: " << alarm << '\n';
      code = kSetAside;
    }
  }
  if (name != "list" && name != "show") couriers_->lookAgain();
  out = data.str();
  err = messages.str();
  return code;
}

Response Service::decide(const Request& request, const Place& place) {
  OutboxOptions options;
  options.ids = {place.row};
  if (place.route == Route::Drop) {
    const Result<json::Value> body = json::read(request.body);
    if (body) options.because = body->text("because");
    if (trimmed(options.because).empty()) {
      return refusal(422, IssueType::Required, "Why it is dropped is not said.",
                     R"(Send {"because": "typed twice"}, say.)");
    }
  }
  const std::string name = place.route == Route::Drop      ? "drop"
                           : place.route == Route::Release ? "release"
                                                           : "retry";
  std::string out;
  std::string err;
  if (runCommand(name, options, out, err) != kWell) {
    return refusal(409, IssueType::BusinessRule, err, "See GET /assessments/{row}.");
  }
  return follow(place.row);
}

Response Service::command(const std::string& body) {
  const auto given = commandOf(body);
  if (!given) return replyTo(given.issues());
  std::string out;
  std::string err;
  const int code = runCommand(given->first, given->second, out, err);
  json::Writer text;
  text.beginObject().name("code").number(code).member("out", out).member("err", err).endObject();
  Response response = jsonReply(std::string(text.text()));
  response.about = given->first;
  for (const std::int64_t id : given->second.ids) response.about += " " + std::to_string(id);
  return response;
}

Response Service::audit(const Head& head) {
  const auto after = whole(head.asked("after"), 0);
  if (!after) return noNumber("after");
  Response out;
  out.type = "application/x-ndjson";
  std::size_t given = 0;
  const auto from = static_cast<std::uint64_t>(std::max<std::int64_t>(*after, 0));
  const auto take = [&](const serve::TrailText& line) {
    if (line.number <= from) return true;
    out.body.append(line.text).append("\n");
    return ++given < kPage;
  };
  const Issues issues = serve::readTrail(config_.data / kTrailFile, from, take);
  return issues.empty() ? out : replyTo(issues);
}

}  // namespace footbridge::app
