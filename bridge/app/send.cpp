// Readings to bundles to the outbox to their destination.

#include <atomic>
#include <cstdlib>
#include <functional>
#include <ostream>
#include <thread>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "app/filing.hpp"
#include "app/inputs.hpp"
#include "app/queue.hpp"
#include "app/report.hpp"
#include "app/shape.hpp"
#include "deliver/probe.hpp"
#include "deliver/sender.hpp"

namespace footbridge::app {
namespace {

using deliver::Job;
using std::chrono::milliseconds;

constexpr milliseconds kLook{10};         ///< between looks at whether the inputs have ended
constexpr std::size_t kMarksAtOnce = 64;  ///< files settled in one transaction

/// Reads the inputs in a thread of its own, since a read of standard input cannot be broken off.
class Intake {
 public:
  Intake(Run& run, Queue::Give give, std::function<void()> atEnd)
      : run_(run), thread_([this, give = std::move(give), atEnd = std::move(atEnd)] {
          take(give);
          atEnd();
          done_ = true;
        }) {}

  ~Intake() {
    if (thread_.joinable()) thread_.join();
  }
  Intake(const Intake&) = delete;
  Intake& operator=(const Intake&) = delete;

  /// Waits for the end of the inputs. False if a stop was asked for and a read still goes on.
  bool wait() {
    Moment patience = Moment::max();
    while (!done_ && std::chrono::steady_clock::now() < patience) {
      std::this_thread::sleep_for(kLook);
      if (run_.stop.raised() && patience == Moment::max()) {
        patience = std::chrono::steady_clock::now() + 20 * kLook;
      }
    }
    return done_;
  }

 private:
  using Moment = std::chrono::steady_clock::time_point;

  void take(const Queue::Give& give) {
    if (run_.options.queued) return;
    Queue queue(run_, give);
    const auto use = [this, &queue](Done& done) {
      if (!run_.stop.raised()) queue.take(done);
    };
    forEachOutcome(run_.options.input, run_.world, use, &queue.options());
    queue.finish();
  }

  Run& run_;
  std::atomic<bool> done_ = false;
  std::thread thread_;
};

int conclude(Run& run, const deliver::Outcome& out);

/// Waits for the inputs to end. If a read goes on after a stop was asked for, the program ends
/// here: what was acknowledged is in the outbox, and nothing else was.
void endOf(Intake& intake, Run& run, const deliver::Outcome& out) {
  if (intake.wait()) return;
  deliver::Outcome stopped = out;
  stopped.stopped = true;
  const int code = finish(conclude(run, stopped), run.world.out, run.world.err);
  run.world.err.flush();
  std::_Exit(code);
}

/// What waits in the outbox from before, in its order, due at once: a new run is a new try.
Result<std::vector<Job>> waiting(Run& run) {
  const Result<std::vector<outbox::Row>> rows =
      run.outbox.list({run.to.name, outbox::State::Ready, 0, 0});
  if (!rows) return rows.issues();
  std::vector<Job> out;
  for (const outbox::Row& row : *rows) {
    run.receipts.know(row.id, {{row.system, row.value}, row.revision});
    out.push_back(deliver::jobOf(row));
    out.back().due = deliver::Steady::now();
  }
  return out;
}

/// Stores what comes in without sending it.
deliver::Outcome kept(Run& run, const std::string& because) {
  deliver::Outcome out;
  out.because = because;
  Intake intake(
      run, [](const std::vector<Job>&) {}, [] {});
  endOf(intake, run, out);
  const auto left = run.outbox.list({run.to.name, outbox::State::Ready, 0, 0});
  if (left) out.left = left->size();
  return out;
}

/// How it is sent, if not whole, and what the server lacks.
void tell(const deliver::Choice& choice, std::ostream& err) {
  const bool steps = deliver::inSteps(choice.strategy);
  if (steps) err << "sent as: " << deliver::word(choice.strategy) << '\n';
  if (!steps && !choice.warnings.empty()) err << "what the server says of itself:\n";
  for (const std::string& line : steps ? choice.because : choice.warnings) {
    err << "  " << line << '\n';
  }
}

deliver::Outcome toServer(Run& run) {
  deliver::Patience patience;
  patience.backOff = run.to.server.backOff;
  patience.giveUpAfter = std::chrono::seconds(run.options.waitSeconds);
  config::Server server = run.to.server;
  const deliver::Choice choice =
      deliver::chooseNow(server, releaseOf(run.options.shape, run.to.shape));
  if (!choice.possible) return kept(run, deliver::impossible(choice));
  server.strategy = choice.strategy;
  tell(choice, run.world.err);
  deliver::Sender sender(
      server, patience, run.outbox,
      [&run](const deliver::Event& event) { run.receipts.tell(event); }, run.stop.descriptor());
  sender.warnBy([&run](const std::string& sentence) { run.world.err << sentence << '\n'; });
  Result<std::vector<Job>> before = waiting(run);
  if (!before) {
    run.failures = before.issues();
    return {};
  }
  sender.give(*std::move(before));
  Intake intake(
      run,
      [&sender](std::vector<Job> jobs) {
        sender.give(std::move(jobs));
        sender.waitForRoom();
      },
      [&sender] { sender.finish(); });
  deliver::Outcome out = sender.run();
  endOf(intake, run, out);
  // What came in after the sender gave up is left as well.
  const auto left = run.outbox.list({run.to.name, outbox::State::Ready, 0, 0});
  if (left) out.left = left->size();
  return out;
}

void settleFiles(Run& run, std::vector<outbox::Mark>& marks, deliver::Outcome& out) {
  if (marks.empty()) return;
  out.failures = run.outbox.settle(marks, clockTime());
  if (!out.failures.empty()) return;
  for (const outbox::Mark& mark : marks) {
    ++(mark.state == outbox::State::Delivered ? out.delivered : out.held);
    run.receipts.tell({mark.id, mark.state, mark.attempts, mark.reason, 0, 0});
  }
  marks.clear();
}

deliver::Outcome toFolder(Run& run) {
  deliver::Outcome out;
  Intake intake(
      run, [](const std::vector<Job>&) {}, [] {});
  endOf(intake, run, out);
  const Result<std::vector<outbox::Row>> rows =
      run.outbox.list({run.to.name, outbox::State::Ready, 0, 0});
  if (!rows) {
    out.failures = rows.issues();
    return out;
  }
  std::vector<outbox::Mark> marks;
  for (const outbox::Row& row : *rows) {
    out.stopped = run.stop.raised();
    if (out.stopped || !out.failures.empty()) break;
    run.receipts.know(row.id, {{row.system, row.value}, row.revision});
    std::optional<outbox::Mark> mark = fileRow(run.outbox, run.to.folder, row, out.because);
    out.unreachable = !mark;
    if (!mark) break;
    marks.push_back(*std::move(mark));
    if (marks.size() >= kMarksAtOnce) settleFiles(run, marks, out);
  }
  settleFiles(run, marks, out);
  out.left = rows->size() - out.delivered - out.held;
  return out;
}

int conclude(Run& run, const deliver::Outcome& ended) {
  deliver::Outcome out = ended;
  out.held += run.heldAtOnce;
  append(run.failures, out.failures);
  run.world.out.flush();
  std::ostream& err = run.world.err;
  err << out.delivered << " delivered to " << run.to.name;
  if (out.refused > 0) err << ", " << out.refused << " refused";
  if (out.held > 0) err << ", " << out.held << " held for a person";
  if (out.left > 0) err << ", " << out.left << " left in the outbox";
  if (run.setAside > 0) err << ", " << run.setAside << " set aside";
  err << '\n';
  if (!out.because.empty()) err << out.because << '\n';
  if (out.left > 0) {
    err << "What is left is sent by the next `footbridge send --to " << run.to.name
        << " --queued`.\n";
  }
  for (const Issue& issue : run.failures) printIssue(err, issue);
  if (!run.failures.empty()) return kOwnFailure;
  if (out.unreachable && out.left > 0) return kUnreachable;
  const bool all = out.refused + out.held + out.left + run.setAside == 0 &&
                   run.receipts.notDelivered() == 0 && !out.stopped;
  return all ? kWell : kSetAside;
}

}  // namespace

int send(const SendOptions& options, World& world) {
  const Result<config::Config> config = loadConfiguration(options.config, world.tables);
  if (!config) return refuse(config.issues(), world, kUsage);
  const Result<config::Destination> to = findDestination(*config, options.to);
  if (!to) return refuse(to.issues(), world, kUsage);
  if (const Issues issues = credentialIssues(*to); !issues.empty()) {
    return refuse(issues, world, kUsage);
  }
  package::BundleOptions bundle = options.bundle;
  const Issues unshaped = chooseShape(options.shape, to->shape, world.tables, bundle);
  if (!unshaped.empty()) return refuse(unshaped, world, kUsage);
  const deliver::StopSignal stop;
  const Unfolder unfolder(world.tables, std::string(programVersion()));
  Result<outbox::Outbox> outbox = openOutbox(*config, unfolder);
  if (!outbox) return refuse(outbox.issues(), world, kOwnFailure);
  const auto erased = outbox->erasePayloads(clockTime() - config->keepDelivered);
  if (!erased) return refuse(erased.issues(), world, kOwnFailure);
  Run run{options, world, *config, *to, *outbox, stop, {options, world}, 0, 0, {}};
  const deliver::Outcome out = to->kind == config::Kind::Server ? toServer(run) : toFolder(run);
  return conclude(run, out);
}

}  // namespace footbridge::app
