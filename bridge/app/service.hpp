#pragma once
// The running service: everything that `serve` holds, and the answers to what is asked of it.

#include <atomic>
#include <memory>
#include <mutex>
#include <string>

#include "app/access.hpp"
#include "app/alarms.hpp"
#include "app/commands.hpp"
#include "app/couriers.hpp"
#include "app/desk.hpp"
#include "app/folder_watch.hpp"
#include "app/maps.hpp"
#include "app/mllp.hpp"
#include "config/config.hpp"
#include "core/seal.hpp"
#include "serve/http.hpp"
#include "serve/journal.hpp"
#include "serve/metrics.hpp"
#include "serve/trail.hpp"
#include "serve/wire.hpp"

namespace footbridge::app {

class Service {
 public:
  Service(const config::Config& config, World& world, outbox::Outbox& outbox, Sealer sealer,
          serve::Trail trail, const std::string& version);

  /// Reads tokens and source maps; they have to be right before anything is served, and are read
  /// again when the configuration is to be looked at anew. With issues, what was before stays.
  Issues renew();

  /// Listens; gives the port. Then run() serves until stop() was called and all is finished.
  Result<std::uint16_t> listen();

  /// The same for messages, where they are configured; before run().
  Result<std::uint16_t> listenMllp();
  void run();

  /// By any thread: takes nothing more, finishes what was taken.
  void stop();

  /// Once a second, by the thread that waits for signals: alarms, gauges, the trail onto the disk.
  /// False if the service does not answer any more.
  bool tick();

  /// By the same thread: files of the trail that are older than they are to be kept.
  Issues removeOldTrail();

  serve::Journal& journal() { return journal_; }

 private:
  std::optional<serve::Response> admit(serve::Head& head);
  void handle(serve::Request request, const std::function<void(serve::Response)>& reply);
  void note(const serve::Head& head, const serve::Response& response);
  void noteDelivery(const std::string& destination, const deliver::Event& event);
  void noteAccess(const serve::Access& access, std::string_view event, double seconds);
  bool resumeTrail();
  void keepTrail();
  serve::Site site();

  void watchFolders();
  FolderSite folderSite(const config::WatchedFolder& folder);
  FileFate takeFile(const config::WatchedFolder& folder, std::string bytes);
  void noteFile(const config::WatchedFolder& folder, const FileFate& fate);

  using Acknowledge = std::function<void(std::vector<std::string>)>;
  MllpSite mllpSite();
  void takeMessage(const Incoming& incoming, const Acknowledge& reply);
  void noteMessage(const serve::Access& access, const std::string& code,
                   serve::Steady::time_point since);

  DeskPlan deskPlan(const std::string& version);
  CourierNews courierNews();

  void submit(serve::Request& request, const std::function<void(serve::Response)>& reply);
  serve::Response settled(const Settled& so);
  serve::Response answer(const serve::Request& request, const Place& place);
  serve::Response follow(std::int64_t row);
  serve::Response find(const serve::Head& head);
  serve::Response bundle(std::int64_t row);
  serve::Response outboxList(const serve::Head& head);
  serve::Response decide(const serve::Request& request, const Place& place);
  serve::Response command(const std::string& body);
  serve::Response audit(const serve::Head& head);
  serve::Response health(Route route);
  int runCommand(const std::string& name, const OutboxOptions& options, std::string& out,
                 std::string& err);
  std::string opaque(const Item& item) const;

  config::Config config_;
  World& world_;
  outbox::Outbox& outbox_;
  Sealer sealer_;
  std::vector<config::Destination> to_;
  serve::Journal journal_;
  serve::Metrics metrics_;
  std::mutex trailMutex_;
  serve::Trail trail_;
  std::atomic<bool> trailFailed_ = false;
  bool trailStuck_ = false;  ///< the last attempt to begin another file failed
  Access access_;
  Alarms alarms_;
  SourceMaps maps_;
  std::atomic<bool> stopping_ = false;
  serve::Wire wire_;
  serve::Site site_;
  std::unique_ptr<serve::Wire> mllpWire_;  ///< nothing where no messages are taken
  MllpSite mllpSite_;
  std::unique_ptr<Couriers> couriers_;
  std::unique_ptr<Desk> desk_;  ///< goes before them: it hands over to the couriers
  std::vector<std::unique_ptr<FolderWatch>> folders_;  ///< go first: they wait for the desk
};

}  // namespace footbridge::app
