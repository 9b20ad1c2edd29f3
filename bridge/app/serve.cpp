// The service from its start to its end.

#include <poll.h>
#include <pthread.h>
#include <sys/resource.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include <csignal>
#include <ostream>
#include <thread>

#include "app/deployment.hpp"
#include "app/report.hpp"
#include "app/rows.hpp"
#include "app/service.hpp"
#include "app/shape.hpp"
#include "core/file.hpp"
#include "serve/notify.hpp"

namespace footbridge::app {
namespace {

using serve::Level;

constexpr int kTick = 1'000;  ///< milliseconds between looks at everything
constexpr std::chrono::minutes kEraseEvery{1};
constexpr std::chrono::milliseconds kEraseFor{200};
constexpr std::chrono::minutes kClockDoubt{2};

/// SIGTERM, SIGINT and SIGHUP as something that can be waited for. Made before any thread.
class Signals {
 public:
  Signals() {
    sigemptyset(&set_);
    for (const int each : {SIGTERM, SIGINT, SIGHUP}) sigaddset(&set_, each);
    pthread_sigmask(SIG_BLOCK, &set_, nullptr);
    descriptor_ = ::signalfd(-1, &set_, SFD_CLOEXEC | SFD_NONBLOCK);
  }
  ~Signals() {
    ::close(descriptor_);
    pthread_sigmask(SIG_UNBLOCK, &set_, nullptr);
  }
  Signals(const Signals&) = delete;
  Signals& operator=(const Signals&) = delete;

  /// The signal that came within the time, or 0.
  int wait(int milliseconds) const {
    pollfd asked{descriptor_, POLLIN, 0};
    signalfd_siginfo got{};
    if (::poll(&asked, 1, milliseconds) != 1) return 0;
    if (::read(descriptor_, &got, sizeof got) != static_cast<ssize_t>(sizeof got)) return 0;
    return static_cast<int>(got.ssi_signo);
  }

 private:
  sigset_t set_{};
  int descriptor_ = -1;
};

/// As many connections as the system allows.
void prepareProcess() {
  // Asking whether a file is being written to may bring one, and its default is to end the program.
  std::signal(SIGIO, SIG_IGN);
  rlimit files{};
  if (::getrlimit(RLIMIT_NOFILE, &files) != 0) return;
  files.rlim_cur = files.rlim_max;
  ::setrlimit(RLIMIT_NOFILE, &files);
}

void tellIssues(serve::Journal& journal, std::string_view event, const Issues& issues) {
  for (const Issue& issue : issues) {
    journal.write(Level::Error, event,
                  {{"place", issue.place}, {"text", issue.text}, {"mend", issue.mend}});
  }
}

/// A clock that stands before what was stored last was set back, or is wrong.
void checkClock(outbox::Outbox& outbox, serve::Journal& journal) {
  const auto rows = outbox.list({"", outbox::State::Ready, 0, 1});
  if (!rows || rows->empty() || rows->front().created < clockTime() + kClockDoubt) return;
  journal.write(Level::Warning, "clock",
                {{"text", "The clock stands before the arrival of what is stored already."}});
}

/// What time does to the outbox, for a moment at most: the rest at the next look, since nothing can
/// be stored meanwhile. False if more is left.
bool erase(outbox::Outbox& outbox, const config::Config& config, serve::Journal& journal) {
  constexpr std::int64_t kSome = outbox::Outbox::kEraseAtOnce;
  const auto end = serve::Steady::now() + kEraseFor;
  std::int64_t payloads = 0;
  std::int64_t some = kSome;
  while (some == kSome && serve::Steady::now() < end) {
    const auto erased = outbox.erasePayloads(clockTime() - config.keepDelivered, kSome);
    if (!erased) tellIssues(journal, "outbox-failed", erased.issues());
    some = erased ? *erased : 0;
    payloads += some;
  }
  if (payloads > 0) {
    journal.write(Level::Info, "erased", {{"payloads", std::to_string(payloads)}});
  }
  if (!config.serve.mllp) return some < kSome;
  const auto forgotten = outbox.forgetMessages(clockTime() - config.serve.mllp->remember, kSome);
  if (!forgotten) tellIssues(journal, "outbox-failed", forgotten.issues());
  return some < kSome && (!forgotten || *forgotten < kSome);
}

void renew(Service& service) {
  serve::notifyManager("RELOADING=1");
  const Issues issues = service.renew();
  tellIssues(service.journal(), "reload-failed", issues);
  if (issues.empty()) service.journal().write(Level::Info, "reloaded");
  serve::notifyManager("READY=1");
}

/// Until told to stop.
void watch(Service& service, const Signals& signals, outbox::Outbox& outbox,
           const config::Config& config) {
  auto erased = serve::Steady::now() - kEraseEvery;
  while (true) {
    const int signal = signals.wait(kTick);
    if (signal == SIGTERM || signal == SIGINT) return;
    if (signal == SIGHUP) renew(service);
    if (service.tick()) serve::notifyManager("WATCHDOG=1");
    if (serve::Steady::now() - erased < kEraseEvery) continue;
    if (erase(outbox, config, service.journal())) erased = serve::Steady::now();
    tellIssues(service.journal(), "trail-failed", service.removeOldTrail());
  }
}

void tellStart(Service& service, const config::Config& config, std::uint16_t port,
               const World& world, const std::string& version) {
  std::string to;
  for (const config::Destination& each : config.destinations) {
    (to += to.empty() ? "" : ", ") += each.name;
  }
  service.journal().write(Level::Info, "started",
                          {{"version", version},
                           {"tables", world.tables.digest},
                           {"address", config.serve.address + ":" + std::to_string(port)},
                           {"tls", config.serve.certificateFile.empty() ? "no" : "yes"},
                           {"clientCertificates", config.serve.clientCaFile.empty() ? "no" : "yes"},
                           {"tokens", config.serve.tokensFile.empty() ? "no" : "yes"},
                           {"destinations", to}});
}

/// The way in for messages, where there is one.
Issues listenMllp(Service& service, const config::Config& config) {
  if (!config.serve.mllp) return {};
  const Result<std::uint16_t> port = service.listenMllp();
  if (!port) return port.issues();
  const config::Mllp& mllp = *config.serve.mllp;
  service.journal().write(Level::Info, "listening",
                          {{"what", "MLLP"},
                           {"address", mllp.address + ":" + std::to_string(*port)},
                           {"tls", mllp.certificateFile.empty() ? "no" : "yes"},
                           {"clientCertificates", mllp.clientCaFile.empty() ? "no" : "yes"}});
  if (mllp.portFile.empty()) return {};
  return writeFileAtomically(mllp.portFile, std::to_string(*port) + "\n");
}

int runService(Service& service, const Signals& signals, outbox::Outbox& outbox,
               const config::Config& config, World& world, const std::string& version) {
  if (const Issues issues = service.renew(); !issues.empty()) return refuse(issues, world, kUsage);
  const Result<std::uint16_t> port = service.listen();
  if (!port) return refuse(port.issues(), world, kUsage);
  if (!config.serve.portFile.empty()) {
    const Issues issues = writeFileAtomically(config.serve.portFile, std::to_string(*port) + "\n");
    if (!issues.empty()) return refuse(issues, world, kUsage);
  }
  if (const Issues issues = listenMllp(service, config); !issues.empty()) {
    return refuse(issues, world, kUsage);
  }
  checkClock(outbox, service.journal());
  std::thread wire([&service] { service.run(); });
  tellStart(service, config, *port, world, version);
  serve::notifyManager("READY=1");
  watch(service, signals, outbox, config);
  serve::notifyManager("STOPPING=1");
  service.journal().write(Level::Info, "stopping");
  service.stop();
  wire.join();
  return kWell;
}

}  // namespace

int serve(const ServeOptions& options, World& world) {
  prepareProcess();
  const Result<config::Config> config = loadConfiguration(options.config, world.tables);
  if (!config) return refuse(config.issues(), world, kUsage);
  if (world.tables.ruleSet(config->serve.ruleSet) == nullptr) {
    return showRules(config->serve.ruleSet, world);
  }
  for (const config::Destination& to : config->destinations) {
    package::BundleOptions shaped;
    Issues issues = chooseShape({}, to.shape, world.tables, shaped);
    append(issues, certificateIssues(to));
    if (!issues.empty()) return refuse(issues, world, kUsage);
  }
  const Signals signals;
  const Unfolder unfolder(world.tables, std::string(programVersion()));
  Result<outbox::Outbox> outbox = openOutbox(*config, unfolder);
  if (!outbox) return refuse(outbox.issues(), world, kOwnFailure);
  Result<Sealer> sealer = openSealer(*config);
  Result<Sealer> chain = openSealer(*config);
  if (!sealer || !chain) return refuse(sealer ? chain.issues() : sealer.issues(), world, kUsage);
  Result<serve::Trail> trail = serve::Trail::open(config->data / kTrailFile, trailHash(*chain));
  if (!trail) return refuse(trail.issues(), world, kOwnFailure);
  int code = kWell;
  {
    Service service(*config, world, *outbox, *std::move(sealer), *std::move(trail),
                    options.version);
    code = runService(service, signals, *outbox, *config, world, options.version);
  }
  std::error_code ignored;
  std::filesystem::remove(config->data / kServiceSocket, ignored);
  return code;
}

}  // namespace footbridge::app
