#include "app/alarms.hpp"

#include "app/deployment.hpp"
#include "serve/certificate.hpp"

namespace footbridge::app {
namespace {

using outbox::State;
using serve::Level;
using std::chrono::seconds;

double secondsSince1970() {
  return static_cast<double>(
      std::chrono::duration_cast<seconds>(std::chrono::system_clock::now().time_since_epoch())
          .count());
}

}  // namespace

Alarms::Alarms(const config::Config& config, serve::Journal& journal, serve::Metrics& metrics)
    : config_(config), journal_(journal), metrics_(metrics) {
  for (const char* kind :
       {"silence", "undelivered", "person", "destination", "certificate", "folder", "full"}) {
    metrics_.set("footbridge_alarm", kind, 0);
  }
}

void Alarms::heard() {
  metrics_.set("footbridge_intake_last_timestamp_seconds", "", secondsSince1970());
  const std::scoped_lock lock(mutex_);
  heard_ = std::chrono::steady_clock::now();
}

void Alarms::trouble(const std::string& destination, const std::string& because) {
  note(faulty_, destination, because);
}

void Alarms::folder(const std::string& name, const std::string& because) {
  note(shut_, name, because);
}

void Alarms::note(std::map<std::string, std::string>& all, const std::string& name,
                  const std::string& because) {
  const std::scoped_lock lock(mutex_);
  if (because.empty()) {
    all.erase(name);
  } else {
    all[name] = because;
  }
}

/// The sentence of an alarm, or "" to end it. Told in the journal when that changes.
void Alarms::set(const std::string& kind, const std::string& sentence) {
  metrics_.set("footbridge_alarm", kind, sentence.empty() ? 0 : 1);
  const std::scoped_lock lock(mutex_);
  const bool was = on_.count(kind) > 0;
  if (sentence.empty()) {
    on_.erase(kind);
    if (was) journal_.write(Level::Info, "alarm-over", {{"kind", kind}});
    return;
  }
  on_[kind] = sentence;
  if (!was) journal_.write(Level::Warning, "alarm", {{"kind", kind}, {"text", sentence}});
}

void Alarms::lookAtBacklog(outbox::Outbox& outbox) {
  const Result<std::vector<outbox::Backlog>> backlog = outbox.backlog();
  if (!backlog) {
    set("undelivered", "The outbox cannot be read: " + backlog.issues().front().text);
    return;
  }
  for (const config::Destination& to : config_.destinations) {
    for (const State state : {State::Ready, State::Refused, State::Held}) {
      metrics_.set("footbridge_outbox_rows", to.name, 0, outbox::word(state));
    }
    metrics_.set("footbridge_outbox_oldest_seconds", to.name, 0);
  }
  std::string late;
  std::int64_t person = 0;
  for (const outbox::Backlog& each : *backlog) {
    metrics_.set("footbridge_outbox_rows", each.destination, static_cast<double>(each.rows),
                 outbox::word(each.state));
    if (each.state != State::Ready) {
      person += each.rows;
      continue;
    }
    const auto age = std::chrono::duration_cast<seconds>(clockTime() - each.oldest);
    metrics_.set("footbridge_outbox_oldest_seconds", each.destination,
                 static_cast<double>(age.count()));
    if (age >= config_.serve.undelivered) late = each.destination;
  }
  set("undelivered",
      late.empty() ? "" : "Something has been waiting for " + late + " for too long.");
  set("full", outbox.full()
                  ? "The outbox is as full as max_megabytes allows: nothing more is taken "
                    "in. Raise it, or lower keep_days."
                  : "");
  set("person", person == 0 ? "" : std::to_string(person) + " rows are refused or held.");
}

void Alarms::lookAtCertificates() {
  std::vector<std::pair<std::string, std::filesystem::path>> files{
      {"serve", config_.serve.certificateFile}};
  if (config_.serve.mllp) files.emplace_back("mllp", config_.serve.mllp->certificateFile);
  for (const config::Destination& to : config_.destinations) {
    files.emplace_back(to.name, to.server.certificateFile);
  }
  std::string ending;
  for (const auto& [name, file] : files) {
    if (file.empty()) continue;
    const Result<std::chrono::sys_seconds> end = serve::validUntil(file);
    const auto left = end ? *end - std::chrono::system_clock::now() : std::chrono::hours(0);
    if (end) {
      metrics_.set("footbridge_certificate_end_timestamp_seconds", name,
                   static_cast<double>(end->time_since_epoch().count()));
    }
    if (left < std::chrono::hours(24 * config_.serve.certificateDays)) ending = name;
  }
  set("certificate",
      ending.empty() ? "" : "The certificate of " + ending + " ends soon, or cannot be read.");
}

/// Names of files in a folder may hold those of patients, so that only servers have their reason.
std::string Alarms::stopped(const std::pair<const std::string, std::string>& trouble) const {
  const config::Destination* to = config_.find(trouble.first);
  const bool told = to != nullptr && to->kind == config::Kind::Server;
  return "Sending to " + trouble.first + " stopped" +
         (told ? ": " + trouble.second : ", since the destination is at fault.");
}

void Alarms::look(outbox::Outbox& outbox) {
  lookAtBacklog(outbox);
  lookAtCertificates();
  bool silent = false;
  std::string faulty;
  std::string shut;
  {
    const std::scoped_lock lock(mutex_);
    silent = config_.serve.silence.count() > 0 &&
             std::chrono::steady_clock::now() - heard_ > config_.serve.silence;
    if (!faulty_.empty()) faulty = stopped(*faulty_.begin());
    if (!shut_.empty()) {
      shut = "Watched folder " + shut_.begin()->first + ": " + shut_.begin()->second;
    }
  }
  set("silence", silent ? "No assessment has come in for longer than is usual." : "");
  set("folder", shut);
  set("destination", faulty);
}

bool Alarms::full() const {
  const std::scoped_lock lock(mutex_);
  return on_.count("full") > 0;
}

std::vector<std::string> Alarms::on() const {
  const std::scoped_lock lock(mutex_);
  std::vector<std::string> out;
  for (const auto& [kind, sentence] : on_) {
    out.push_back(kind);
    (out.back() += ": ") += sentence;
  }
  return out;
}

}  // namespace footbridge::app
