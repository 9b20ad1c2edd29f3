#pragma once
// Where assessments are handed in while the service runs: converted by some threads, stored by one,
// with everything that waits in one transaction, and answered only once that is on the disk.

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "app/pipeline.hpp"
#include "config/config.hpp"
#include "csv/source_map.hpp"
#include "deliver/lanes.hpp"
#include "fhir/names.hpp"
#include "hl7/reader.hpp"
#include "outbox/outbox.hpp"
#include "package/options.hpp"

namespace footbridge::app {

/// What became of one assessment that was handed in, the worst over all destinations.
enum class Fate : std::uint8_t {
  Stored,   ///< is in the outbox now
  Known,    ///< was there already, of the same content
  Held,     ///< is in the outbox and waits for a person
  Refused,  ///< set aside, for the errors among its issues
  Differs,  ///< the same version is there with other content, which stands
  Tried,    ///< a dry run: nothing was stored
  Failed    ///< could not be stored, for a reason of ours
};

/// "stored", "known", "held", "refused", "differs", "tried" or "failed".
std::string_view word(Fate fate);

struct Item {
  std::string place;   ///< in what was handed in: "[3]", ":12", "" where it was a single one
  std::string system;  ///< of the assessment's identifier, as far as it could be read
  std::string value;
  std::int32_t revision = 1;
  Issues issues;
  Fate fate = Fate::Refused;
  std::int64_t row = 0;  ///< in the outbox, of the first destination
};

/// What became of everything that was handed in at once.
struct Settled {
  std::vector<Item> items;
  std::string bundles;       ///< of a dry run, one a line
  Issues failures;           ///< of ours: what has no row is not stored
  Issues remarks = {};       ///< on the whole: columns that the source map does not read
  std::size_t unlisted = 0;  ///< were refused as well, beyond the many that are among the items
  bool tooMany = false;      ///< a dry run of more than is answered at once

  /// Of a message alone: it, what was read of it, and what is known of its number. One that is not
  /// supported, or whose number another message bore, has no items.
  std::string message = {};
  hl7::Reading reading = {};
  outbox::Heard heard = outbox::Heard::Never;
};

/// Refused ones of one submission that are listed, and kept each in files of its own; assessments
/// of a dry run. A small body may hold a million of them.
inline constexpr std::size_t kMostRefused = 500;
inline constexpr std::size_t kMostTried = 100;

/// What is handed in at once.
struct Submission {
  enum class Form : std::uint8_t {
    Detect,
    Lines,
    Table,
    Resources,  ///< FHIR: filled-in forms and Observations
    Message,    ///< one message of HL7 v2, whose number is remembered
    Messages    ///< a file of them
  };
  enum class Aim : std::uint8_t { Store, Try };
  /// What is refused: set aside by the desk, or kept whole by whoever handed it in.
  enum class Refused : std::uint8_t { SetAside, Leave };
  std::string body;
  Form form = Form::Detect;
  Aim aim = Aim::Store;
  Refused refused = Refused::SetAside;
  const csv::SourceMap* map = nullptr;      ///< for a table; has to live as long as the desk
  const hl7::Settings* settings = nullptr;  ///< for messages; the same
  const fhir::Names* names = nullptr;       ///< for resources; the same
  std::function<void(Settled)> settled;     ///< called once, by a thread of the desk
};

struct DeskPlan {
  const Tables& tables;
  package::BundleOptions bundle;
  std::vector<config::Destination> to;
  std::filesystem::path setAside;
  std::size_t workers = 2;
  std::size_t waiting = 4'096;  ///< submissions; more are turned away
  bool remembers = false;       ///< the numbers of messages

  /// Is told what is new and goes to which of `to`; called by the thread that stores.
  std::function<void(std::size_t, std::vector<deliver::Job>)> give;
  /// Is told of each commit: how many rows, and how many seconds it took.
  std::function<void(std::size_t, double)> committed;
};

class Desk {
 public:
  Desk(DeskPlan plan, outbox::Outbox& outbox);

  /// Ends what was handed in first.
  ~Desk();
  Desk(const Desk&) = delete;
  Desk& operator=(const Desk&) = delete;

  /// By any thread. False if too much is waiting already.
  bool submit(Submission submission);

  /// Runs a piece of work that reads the outbox, among the submissions. By any thread; the same.
  bool run(std::function<void()> work);

  std::size_t waiting() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::app
