#pragma once
// The source maps of the running service, which are read again when it is told to.

#include <deque>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>

#include "config/config.hpp"
#include "csv/source_map.hpp"
#include "fhir/names.hpp"
#include "hl7/settings.hpp"

namespace footbridge::app {

/// By any thread. What was given out once stays: something may still be read by it.
class SourceMaps {
 public:
  /// Both have to outlive it.
  SourceMaps(const config::Serve& serve, const Tables& tables) : serve_(serve), tables_(tables) {}

  /// Reads all of them. With issues the old ones stand.
  Issues renew();

  /// A map of tables, or nullptr.
  const csv::SourceMap* table(std::string_view name) const;

  /// How resources are read: by a map with [fhir], or without one (""); nullptr if there is none.
  const fhir::Names* resources(std::string_view name) const;

  /// How messages are read: by a map with [hl7], or without one (""); nullptr if there is none.
  const hl7::Settings* messages(std::string_view name) const;

 private:
  struct Generation {
    std::map<std::string, csv::SourceMap, std::less<>> tables;
    std::map<std::string, hl7::Settings, std::less<>> messages;
    std::map<std::string, fhir::Names, std::less<>> resources;
  };
  Issues checkUses(const Generation& generation) const;

  const config::Serve& serve_;
  const Tables& tables_;
  mutable std::mutex mutex_;
  std::deque<Generation> generations_;  ///< the last one holds
};

}  // namespace footbridge::app
