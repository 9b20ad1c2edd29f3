#include "app/mllp.hpp"

#include <deque>
#include <optional>
#include <utility>

namespace footbridge::app {
namespace {

using serve::Steady;
using serve::Step;

/// Long enough to be none, and short enough to tell which connection has been idle for longest.
constexpr std::chrono::hours kNoEnd{24 * 3'650};

class MllpTalk final : public serve::Talk {
 public:
  MllpTalk(const MllpSite& site, serve::Wire& wire, serve::ConnectionId id, serve::Peer peer)
      : site_(site), wire_(wire), id_(id), peer_(std::move(peer)), frames_(site.limit) {}

  Step take(std::string_view bytes) override {
    std::vector<hl7::Deframer::Frame> complete = frames_.takeAll(bytes);
    tellStrange();
    if (!frames_.inFrame()) frameEnd_.reset();
    if (frames_.inFrame() && (!frameEnd_ || !complete.empty())) restartFrame();
    if (bytes.empty() || !complete.empty()) restartIdle();
    for (hl7::Deframer::Frame& frame : complete) waiting_.push_back(std::move(frame));
    return goOn();
  }

  Step written() override {
    restartIdle();
    return goOn();
  }

 private:
  /// Acknowledgements go out one by one: some receivers lose the second of two that come together.
  Step goOn() {
    if (!answers_.empty()) {
      std::string bytes = hl7::framed(answers_.front());
      answers_.pop_front();
      return {Step::Kind::Write, std::move(bytes), {}};
    }
    // What was not looked at has no answer either: it will be sent again.
    if (site_.closing()) return {};
    if (!waiting_.empty()) return handleNext();
    if (frames_.inFrame()) return {Step::Kind::Read, {}, *frameEnd_};
    return {Step::Kind::Idle, {}, idleEnd_};
  }

  Step handleNext() {
    const std::string name = std::to_string(id_) + "-" + std::to_string(++messages_);
    Incoming incoming{std::move(waiting_.front()), {peer_, name, Steady::now()}};
    waiting_.pop_front();
    site_.handle(std::move(incoming),
                 [this, &wire = wire_, id = id_](std::vector<std::string> answers) {
                   wire.resume(id, [this, answers = std::move(answers)] {
                     answers_.assign(answers.begin(), answers.end());
                     if (frameEnd_) restartFrame();  // nothing was read meanwhile
                     return goOn();
                   });
                 });
    return {Step::Kind::Wait, {}, {}};
  }

  void restartFrame() { frameEnd_ = Steady::now() + site_.frameTime; }

  void restartIdle() {
    const bool ends = site_.idleTime.count() > 0;
    idleEnd_ = Steady::now() + (ends ? site_.idleTime : std::chrono::milliseconds(kNoEnd));
  }

  void tellStrange() {
    const auto tell = [this](std::string_view kind, std::size_t now, std::size_t& before) {
      if (now > before) site_.strange(kind, now - before);
      before = now;
    };
    tell("stray", frames_.strayBytes(), stray_);
    tell("oversized", frames_.oversized(), oversized_);
    tell("unfinished", frames_.unfinished(), unfinished_);
  }

  const MllpSite& site_;
  serve::Wire& wire_;
  serve::ConnectionId id_;
  serve::Peer peer_;
  hl7::Deframer frames_;
  std::deque<hl7::Deframer::Frame> waiting_;
  std::deque<std::string> answers_;
  std::optional<Steady::time_point> frameEnd_;  ///< of the frame that has begun
  Steady::time_point idleEnd_{};
  std::uint64_t messages_ = 0;
  std::size_t stray_ = 0;
  std::size_t oversized_ = 0;
  std::size_t unfinished_ = 0;
};

}  // namespace

serve::Greet mllpGreeting(const MllpSite& site, serve::Wire& wire) {
  return [&site, &wire](serve::ConnectionId id, const serve::Peer& peer) {
    return std::make_unique<MllpTalk>(site, wire, id, peer);
  };
}

}  // namespace footbridge::app
