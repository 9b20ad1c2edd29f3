#include "app/service.hpp"

#include <algorithm>
#include <thread>
#include <utility>

#include "app/deployment.hpp"
#include "app/openapi.hpp"
#include "app/replies.hpp"
#include "app/report.hpp"
#include "app/rows.hpp"
#include "core/file.hpp"

namespace footbridge::app {
namespace {

using serve::Head;
using serve::Level;
using serve::refusal;
using serve::Request;
using serve::Response;
using Reply = std::function<void(Response)>;

constexpr std::chrono::seconds kDead{5};  ///< without a sign of life of the wire

std::vector<config::Destination> chosen(const config::Config& config) {
  std::vector<config::Destination> out;
  for (const config::Destination& each : config.destinations) {
    const std::vector<std::string>& to = config.serve.to;
    if (to.empty() || std::find(to.begin(), to.end(), each.name) != to.end()) out.push_back(each);
  }
  return out;
}

std::unique_ptr<serve::Wire> mllpWire(const config::Serve& serve) {
  if (!serve.mllp) return nullptr;
  return std::make_unique<serve::Wire>(
      serve::WireLimits{serve.mllp->connections, serve.headerTime});
}

std::string unitFree(double seconds) { return std::to_string(seconds).substr(0, 8); }

/// Names of the query that a route takes. Others are refused: a mistyped dry-run would store.
bool knowsQuery(Route route, std::string_view name) {
  if (route == Route::Submit) return name == "dry-run" || name == "map";
  if (route == Route::Find) return name == "identifier" || name == "revision";
  if (route == Route::Outbox) return name == "to" || name == "state" || name == "after";
  return route == Route::Audit && name == "after";
}

std::optional<Response> strangeQuery(const Head& head, Route route) {
  for (const auto& [name, value] : head.query) {
    if (!knowsQuery(route, name)) {
      return refusal(400, IssueType::NotSupported, "The query holds something unknown here.",
                     "/openapi.json names what may stand there.");
    }
  }
  const std::string_view dry = head.asked("dry-run");
  if (dry.empty() || dry == "true" || dry == "false") return std::nullopt;
  return refusal(400, IssueType::Value, "dry-run is true or false.", "");
}

}  // namespace

Service::Service(const config::Config& config, World& world, outbox::Outbox& outbox, Sealer sealer,
                 serve::Trail trail, const std::string& version)
    : config_(config),
      world_(world),
      outbox_(outbox),
      sealer_(std::move(sealer)),
      to_(chosen(config)),
      trail_(std::move(trail)),
      access_(config.serve.tokensFile),
      alarms_(config_, journal_, metrics_),
      maps_(config_.serve, world.tables),
      wire_({config.serve.connections, config.serve.headerTime}),
      site_(site()),
      mllpWire_(mllpWire(config_.serve)),
      mllpSite_(mllpSite()),
      couriers_(std::make_unique<Couriers>(to_, outbox_, courierNews())),
      desk_(std::make_unique<Desk>(deskPlan(version), outbox_)) {
  metrics_.set("footbridge_info", version, 1, world.tables.digest);
}

serve::Site Service::site() {
  serve::Site out;
  out.limits.body = config_.serve.maxBody;
  out.limits.headerTime = config_.serve.headerTime;
  out.limits.bodyTime = config_.serve.bodyTime;
  out.limits.idleTime = config_.serve.idleTime;
  out.admit = [this](Head& head) { return admit(head); };
  out.handle = [this](Request request, const Reply& reply) { handle(std::move(request), reply); };
  out.note = [this](const Head& head, const Response& response) { note(head, response); };
  out.closing = [this] { return stopping_.load(); };
  return out;
}

DeskPlan Service::deskPlan(const std::string& version) {
  DeskPlan out{world_.tables, {}, to_, config_.data / "set-aside", 2, 4'096, false, {}, {}};
  out.remembers = config_.serve.mllp && config_.serve.mllp->remember.count() > 0;
  out.bundle.ruleSet = config_.serve.ruleSet;
  out.bundle.version = version;
  out.give = [this](std::size_t to, std::vector<deliver::Job> jobs) {
    couriers_->give(to, std::move(jobs));
  };
  out.committed = [this](std::size_t rows, double seconds) {
    metrics_.observe("footbridge_commit_rows", static_cast<double>(rows));
    metrics_.observe("footbridge_commit_duration_seconds", seconds);
  };
  return out;
}

CourierNews Service::courierNews() {
  return {[this](const std::string& destination, const deliver::Event& event) {
            noteDelivery(destination, event);
          },
          [this](const std::string& destination, const std::string& because) {
            alarms_.trouble(destination, because);
          },
          [this](const std::string& destination, const std::string& sentence) {
            journal_.write(Level::Warning, "destination",
                           {{"destination", destination}, {"warning", sentence}});
          }};
}

Issues Service::renew() {
  Issues issues = access_.renew();
  append(issues, wire_.renewTls());
  if (mllpWire_) append(issues, mllpWire_->renewTls());
  append(issues, maps_.renew());
  return issues;
}

Result<std::uint16_t> Service::listen() {
  const std::filesystem::path socket = config_.data / kServiceSocket;
  Result<std::uint16_t> local =
      wire_.listen({"", 0, socket, std::nullopt, serve::httpGreeting(site_, wire_)});
  if (!local) return local;
  std::error_code ignored;  // the folder keeps others out as well
  std::filesystem::permissions(
      socket, std::filesystem::perms::owner_read | std::filesystem::perms::owner_write, ignored);
  const config::Serve& from = config_.serve;
  serve::Endpoint endpoint{
      from.address, from.port, {}, std::nullopt, serve::httpGreeting(site_, wire_)};
  if (!from.certificateFile.empty()) {
    endpoint.tls =
        serve::TlsFiles{from.certificateFile, from.certificateKeyFile, from.clientCaFile};
  }
  return wire_.listen(std::move(endpoint));
}

void Service::run() {
  std::thread messages;
  if (mllpWire_) messages = std::thread([this] { mllpWire_->run(); });
  watchFolders();
  wire_.run();
  folders_.clear();
  if (messages.joinable()) messages.join();
}

void Service::stop() {
  stopping_ = true;
  wire_.stop(config_.serve.stopTime);
  if (mllpWire_) mllpWire_->stop(config_.serve.stopTime);
}

std::optional<Response> Service::admit(Head& head) {
  if (trailFailed_) {
    return refusal(503, IssueType::NoStore, "The audit trail cannot be written.",
                   "Nothing is served without it. See the journal of the service.");
  }
  if (std::optional<Response> no = access_.admit(head)) return no;
  const Found found = findPlace(head.method, head.path);
  if (auto no = strangeQuery(head, found.place->route)) return no;
  if (found.place->route != Route::Submit) return std::nullopt;
  const Result<Submission::Form> form = formOf(head.field("content-type"));
  if (!form) {
    const Issue& issue = form.issues().front();
    return refusal(415, issue.type, issue.text, issue.mend);
  }
  const std::string_view map = head.asked("map");
  if (*form == Submission::Form::Resources && maps_.resources(map) == nullptr) {
    return refusal(400, IssueType::Value, "There is no source map of that name for resources.",
                   "Maps with [fhir] are named below [serve.maps] in the configuration.");
  }
  const bool mapless = *form == Submission::Form::Detect || *form == Submission::Form::Lines;
  if (mapless && !map.empty()) {
    return refusal(400, IssueType::Value, "A source map has nothing to say of this media type.",
                   "Leave ?map out, or send text/csv or application/fhir+json.");
  }
  if (*form != Submission::Form::Table || maps_.table(map) != nullptr) return std::nullopt;
  return refusal(400, IssueType::Required, "A table needs ?map=NAME, with a name that is known.",
                 "Source maps are named below [serve.maps] in the configuration.");
}

void Service::handle(Request request, const Reply& reply) {
  const Place place = *findPlace(request.head.method, request.head.path).place;
  if (place.route == Route::Submit) return submit(request, reply);
  if (place.route == Route::Live || place.route == Route::Ready || place.route == Route::Openapi) {
    return reply(answer(request, place));
  }
  const bool taken = desk_->run(
      [this, request = std::move(request), place, reply] { reply(answer(request, place)); });
  if (!taken) {
    reply(refusal(503, IssueType::Throttled, "Too much is waiting.", "Ask again later."));
  }
}

void Service::note(const Head& head, const Response& response) {
  const Found found = findPlace(head.method, head.path);
  const std::string status = std::to_string(response.status);
  const std::chrono::duration<double> took = serve::Steady::now() - head.since;
  metrics_.count("footbridge_http_requests_total", status);
  metrics_.observe("footbridge_http_request_duration_seconds", took.count());
  if (response.status == 401 || response.status == 403) {
    metrics_.count("footbridge_access_denied_total",
                   response.status == 401 ? "unknown" : "forbidden");
  }
  if (found.place && found.place->route == Route::Live) return;
  const std::string what(found.place ? patternOf(found.place->route) : "(no such path)");
  std::string about = response.about;
  if (found.place && found.place->row != 0) about = "row " + std::to_string(found.place->row);
  const serve::Access access{serve::stamp(),
                             head.who.empty() ? "unknown" : head.who,
                             head.peer.address,
                             what,
                             about,
                             response.status,
                             head.id};
  noteAccess(access, "request", took.count());
}

/// A line of the trail, and one of the journal.
void Service::noteAccess(const serve::Access& access, std::string_view event, double seconds) {
  Issues issues;
  {
    const std::scoped_lock lock(trailMutex_);
    issues = trail_.note(access);
  }
  if (!issues.empty() && !trailFailed_.exchange(true)) {
    journal_.write(Level::Error, "trail-failed", {{"text", issues.front().text}});
  }
  journal_.write(access.outcome < 500 ? Level::Info : Level::Warning, event,
                 {{"what", access.what},
                  {"status", std::to_string(access.outcome)},
                  {"who", access.who},
                  {"from", access.from},
                  {"about", access.about},
                  {"seconds", unitFree(seconds)},
                  {"request", access.request}});
}

void Service::noteDelivery(const std::string& destination, const deliver::Event& event) {
  const std::string state(outbox::word(event.state));
  metrics_.count("footbridge_deliveries_total", state);
  // The reason may hold what a server wrote, and that may be about a patient: it stays in the
  // outbox, sealed.
  const bool well = event.state == outbox::State::Delivered;
  journal_.write(well ? Level::Info : Level::Warning, "delivery",
                 {{"row", std::to_string(event.id)},
                  {"destination", destination},
                  {"state", state},
                  {"tries", std::to_string(event.attempts)},
                  {"request", event.request}});
}

bool Service::tick() {
  metrics_.set("footbridge_http_connections", "", static_cast<double>(wire_.connections()));
  metrics_.set("footbridge_intake_waiting", "", static_cast<double>(desk_->waiting()));
  std::size_t faults = wire_.faults();
  serve::Steady::time_point alive = wire_.heartbeat();
  if (mllpWire_) {
    metrics_.set("footbridge_mllp_connections", "", static_cast<double>(mllpWire_->connections()));
    faults += mllpWire_->faults();
    alive = std::min(alive, mllpWire_->heartbeat());
  }
  metrics_.set("footbridge_connection_faults", "", static_cast<double>(faults));
  alarms_.look(outbox_);
  keepTrail();
  return serve::Steady::now() - alive < kDead && !trailFailed_;
}

/// Whether the trail can be written again after it could not be; its first line then says so.
bool Service::resumeTrail() {
  const std::scoped_lock lock(trailMutex_);
  return trail_.note({serve::stamp(), "service", "", "trail resumed", "", 200, ""}).empty();
}

/// The trail onto the disk; another file if it is time.
void Service::keepTrail() {
  const bool failed = trailFailed_;
  const bool resumed = failed && resumeTrail();
  if (const Issues issues = trail_.sync(); !issues.empty()) {
    trailFailed_ = true;
  } else if (resumed) {
    trailFailed_ = false;
    journal_.write(Level::Info, "trail-resumed", {});
  }
  const std::scoped_lock lock(trailMutex_);
  const Issues issues =
      trail_.turn({config_.serve.trail.maxBytes, config_.serve.trail.monthly}, serve::stamp());
  // It goes on in the file it has, and this is tried again: once is told.
  if (!issues.empty() && !std::exchange(trailStuck_, true)) {
    journal_.write(Level::Error, "trail-not-turned", {{"text", issues.front().text}});
  }
  if (issues.empty()) trailStuck_ = false;
}

Issues Service::removeOldTrail() {
  if (config_.serve.trail.keep.count() == 0) return {};
  const std::scoped_lock lock(trailMutex_);
  const auto oldest = std::chrono::system_clock::now() - config_.serve.trail.keep;
  return trail_.removeOlder(serve::stamp(oldest), serve::stamp());
}

}  // namespace footbridge::app
