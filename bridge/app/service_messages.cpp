// How the service takes messages of HL7 v2 and answers them.

#include "app/deployment.hpp"
#include "app/service.hpp"
#include "hl7/acknowledge.hpp"

namespace footbridge::app {
namespace {

/// What became of one assessment where its own issues do not say it.
Issues fateIssues(const Item& item) {
  if (item.fate == Fate::Held) {
    return {{Severity::Warning, IssueType::BusinessRule, "", item.place,
             "Stored, and held until a person has looked at it.", "Nothing needs to be sent."}};
  }
  if (item.fate != Fate::Differs) return {};
  return {{Severity::Error, IssueType::Duplicate, "", item.place,
           "This order was taken before with other content, which stands.",
           "If this is a correction, say so in OBR-25 or OBX-11."}};
}

hl7::Verdict verdictOf(const Settled& so) {
  hl7::Verdict out;
  if (so.heard == outbox::Heard::Other) return {hl7::Stored::Conflict, {}};
  if (!so.failures.empty()) return out;
  out.stored = so.heard == outbox::Heard::Same ? hl7::Stored::Before : hl7::Stored::Now;
  for (const Item& item : so.items) {
    if (item.fate == Fate::Failed) return {hl7::Stored::Unable, {}};
    append(out.issues, item.issues);
    append(out.issues, fateIssues(item));
  }
  return out;
}

/// As HTTP would say it, for the trail.
int statusOf(const Settled& so, int otherwise) {
  if (!so.reading.supported) return 415;
  return so.heard == outbox::Heard::Other ? 409 : otherwise;
}

serve::Access accessOf(const Origin& from, int status, std::string about) {
  return {serve::stamp(),
          from.peer.subject.empty() ? "anyone" : from.peer.subject,
          from.peer.address,
          "MLLP message",
          std::move(about),
          status,
          from.id};
}

}  // namespace

MllpSite Service::mllpSite() {
  MllpSite out;
  if (!config_.serve.mllp) return out;
  out.limit = config_.serve.mllp->maxMessage;
  out.frameTime = config_.serve.mllp->frameTime;
  out.idleTime = config_.serve.mllp->idleTime;
  out.handle = [this](const Incoming& incoming, const Acknowledge& reply) {
    takeMessage(incoming, reply);
  };
  out.strange = [this](std::string_view kind, std::size_t more) {
    metrics_.count("footbridge_mllp_strange_total", kind, more);
  };
  out.closing = [this] { return stopping_.load(); };
  return out;
}

void Service::takeMessage(const Incoming& incoming, const Acknowledge& reply) {
  const hl7::Settings* settings = maps_.messages(config_.serve.mllp->map);
  if (!incoming.frame.whole) {
    const Issue tooLong{Severity::Error,
                        IssueType::TooLong,
                        "serve",
                        "MSH[1]",
                        "The message is longer than " +
                            std::to_string(config_.serve.mllp->maxMessage) +
                            " bytes; nothing of it was stored.",
                        "Send fewer orders in one message; the limit is max_megabytes in "
                        "[serve.mllp]."};
    const hl7::Reply answer =
        hl7::reject(incoming.frame.message, tooLong, *settings, world_.tables, clockNow());
    noteMessage(accessOf(incoming.from, 413, answer.code), answer.code, incoming.from.since);
    return reply(answer.messages);
  }
  // Nothing is taken that the trail could not tell.
  Submission submission;
  submission.body = incoming.frame.message;
  submission.form = Submission::Form::Message;
  submission.settings = settings;
  submission.settled = [this, reply, settings, from = incoming.from](const Settled& so) {
    const hl7::Reply answer = hl7::acknowledge(so.message, so.reading, verdictOf(so), *settings,
                                               world_.tables, clockNow());
    const serve::Response told = settled(so);
    const std::string what = answer.code + (told.about.empty() ? "" : "; " + told.about);
    noteMessage(accessOf(from, statusOf(so, told.status), what), answer.code, from.since);
    reply(answer.messages);
  };
  if (!trailFailed_ && desk_->submit(std::move(submission))) return;
  const hl7::Reading unread{};
  const hl7::Reply answer = hl7::acknowledge(incoming.frame.message, unread, hl7::Verdict{},
                                             *settings, world_.tables, clockNow());
  noteMessage(accessOf(incoming.from, 503, answer.code), answer.code, incoming.from.since);
  reply(answer.messages);
}

void Service::noteMessage(const serve::Access& access, const std::string& code,
                          serve::Steady::time_point since) {
  const std::chrono::duration<double> took = serve::Steady::now() - since;
  metrics_.count("footbridge_mllp_messages_total", code);
  metrics_.observe("footbridge_mllp_message_duration_seconds", took.count());
  noteAccess(access, "message", took.count());
}

Result<std::uint16_t> Service::listenMllp() {
  const config::Mllp& from = *config_.serve.mllp;
  serve::Endpoint endpoint{
      from.address, from.port, {}, std::nullopt, mllpGreeting(mllpSite_, *mllpWire_)};
  if (!from.certificateFile.empty()) {
    endpoint.tls =
        serve::TlsFiles{from.certificateFile, from.certificateKeyFile, from.clientCaFile};
  }
  return mllpWire_->listen(std::move(endpoint));
}

}  // namespace footbridge::app
