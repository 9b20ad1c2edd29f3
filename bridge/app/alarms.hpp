#pragma once
// What a person should look at while the service runs.

#include <chrono>
#include <map>
#include <mutex>
#include <string>
#include <vector>

#include "config/config.hpp"
#include "outbox/outbox.hpp"
#include "serve/journal.hpp"
#include "serve/metrics.hpp"

namespace footbridge::app {

/// Silence, rows that wait for too long or for a person, a full outbox, destinations at fault,
/// certificates that end. Each is a metric, a line in the journal when it begins and ends, and
/// makes `footbridge outbox list --check` fail.
class Alarms {
 public:
  Alarms(const config::Config& config, serve::Journal& journal, serve::Metrics& metrics);

  /// An assessment was taken. By any thread.
  void heard();

  /// A destination is at fault, or no longer. By any thread.
  void trouble(const std::string& destination, const std::string& because);

  /// A watched folder or its files cannot be had, or can again (""). By any thread.
  void folder(const std::string& name, const std::string& because);

  /// Looks at everything. One thread.
  void look(outbox::Outbox& outbox);

  /// Whether the outbox takes nothing more in, when it was looked at last.
  bool full() const;

  /// Those that are on, each in a sentence.
  std::vector<std::string> on() const;

 private:
  void note(std::map<std::string, std::string>& all, const std::string& name,
            const std::string& because);
  void set(const std::string& kind, const std::string& sentence);
  std::string stopped(const std::pair<const std::string, std::string>& trouble) const;
  void lookAtBacklog(outbox::Outbox& outbox);
  void lookAtCertificates();

  const config::Config& config_;
  serve::Journal& journal_;
  serve::Metrics& metrics_;
  mutable std::mutex mutex_;
  std::map<std::string, std::string> on_;      ///< by kind
  std::map<std::string, std::string> faulty_;  ///< destinations
  std::map<std::string, std::string> shut_;    ///< watched folders
  std::chrono::steady_clock::time_point heard_ = std::chrono::steady_clock::now();
};

}  // namespace footbridge::app
