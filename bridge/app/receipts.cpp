#include "app/receipts.hpp"

#include <ostream>

#include "app/report.hpp"
#include "core/text.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

std::string jsonLine(std::int64_t id, const Sent& sent, const std::string& to,
                     const deliver::Event& event, std::string_view already) {
  json::Writer out;
  out.beginObject().name("row").number(id).name("assessment").beginObject();
  out.member("system", sent.assessment.system).member("value", sent.assessment.value).endObject();
  out.name("revision").number(sent.revision).member("destination", to);
  out.member("state", outbox::word(event.state)).member("already", already);
  out.name("attempts").number(event.attempts);
  out.name("created").number(static_cast<long long>(event.created));
  out.name("present").number(static_cast<long long>(event.present));
  out.member("reason", event.reason).endObject();
  return std::string(out.text());
}

std::string textLine(const Sent& sent, const std::string& to, const deliver::Event& event,
                     std::string_view already) {
  std::string out = printable(sent.assessment.value) + " r" + std::to_string(sent.revision) + ": ";
  if (!already.empty()) out += "already ";
  (out += outbox::word(event.state)) += " (" + to + ")";
  if (event.created + event.present > 0) {
    out += ", " + std::to_string(event.created) + " created, " + std::to_string(event.present) +
           " were there already";
  }
  if (!event.reason.empty()) out += ". " + printable(event.reason);
  return out;
}

}  // namespace

void Receipts::know(std::int64_t id, Sent sent) {
  const std::scoped_lock lock(mutex_);
  known_.insert_or_assign(id, std::move(sent));
}

void Receipts::remark(const Outcome& outcome) {
  const std::scoped_lock lock(mutex_);
  printOutcome(world_.err, outcome);
}

void Receipts::line(std::int64_t id, const Sent& sent, const deliver::Event& event,
                    std::string_view already) {
  world_.out << (options_.json ? jsonLine(id, sent, options_.to, event, already)
                               : textLine(sent, options_.to, event, already))
             << '\n';
}

void Receipts::queued(const outbox::Added& added, const Sent& sent) {
  using How = outbox::Added::How;
  const std::scoped_lock lock(mutex_);
  deliver::Event event{added.id, added.state, 0, added.reason, 0, 0};
  if (added.how == How::Differs) {
    ++notDelivered_;
    event.state = outbox::State::Refused;
    event.reason = "This revision was taken before with other content (row " +
                   std::to_string(added.id) +
                   "), which stands. If this is a correction, send it with a higher revision.";
    line(added.id, sent, event, "");
    return;
  }
  if (added.state == outbox::State::Held || added.state == outbox::State::Refused) {
    ++notDelivered_;
    if (event.reason.empty()) {
      event.reason = "See `footbridge outbox show " + std::to_string(added.id) + "`.";
    }
  }
  line(added.id, sent, event, added.how == How::Present ? "there" : "");
}

void Receipts::tell(const deliver::Event& event) {
  const std::scoped_lock lock(mutex_);
  const Sent& sent = known_[event.id];
  if (event.state != outbox::State::Ready) {
    line(event.id, sent, event, "");
    known_.erase(event.id);
    return;
  }
  // The first try that failed is worth hearing of; the others are in the outbox.
  if (event.attempts > 1) return;
  world_.err << printable(sent.assessment.value) << " r" << sent.revision
             << ": will be tried again. " << printable(event.reason) << '\n';
}

}  // namespace footbridge::app
