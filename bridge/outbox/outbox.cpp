#include "outbox/outbox.hpp"

#include <algorithm>
#include <array>
#include <deque>

#include "outbox/schema.hpp"
#include "outbox/sealing.hpp"
#include "outbox/store.hpp"

namespace footbridge::outbox {
namespace {

constexpr std::array<std::string_view, 4> kStates{"ready", "delivered", "refused", "held"};

/// A sixteenth of the cap is too little for all that one commit may take in.
constexpr std::uint64_t kLittle = 16;

}  // namespace

std::string_view word(State state) { return kStates[static_cast<std::size_t>(state)]; }

std::optional<State> stateOf(std::string_view word) {
  const auto found = std::find(kStates.begin(), kStates.end(), word);
  if (found == kStates.end()) return std::nullopt;
  return static_cast<State>(found - kStates.begin());
}

Outbox::Outbox(std::unique_ptr<Store> state) : state_(std::move(state)) {}
Outbox::~Outbox() = default;
Outbox::Outbox(Outbox&&) noexcept = default;

Result<Outbox> Outbox::open(const std::filesystem::path& file, Sealer sealer,
                            std::uint64_t maxBytes) {
  Result<Database> database = Database::open(file);
  if (!database) return std::move(database).issues();
  if (Issues issues = migrate(*database); !issues.empty()) return issues;
  const std::string mine = sealer.keyedHash("key check");
  const std::optional<std::string> theirs =
      database->ask("SELECT value FROM meta WHERE name='key-check'");
  if (theirs && *theirs != mine) {
    return Issue{Severity::Fatal,
                 IssueType::NoStore,
                 "outbox",
                 "",
                 "The outbox " + file.string() + " was sealed with another key.",
                 "Put back the key file it was made with, or set key_file to it."};
  }
  if (!theirs) {
    Statement insert = database->prepare("INSERT INTO meta VALUES ('key-check', ?1)");
    insert.blob(1, mine).step();
  }
  if (Issues issues = database->takeFailure(); !issues.empty()) return issues;
  // Not before: taking over an earlier format needs room for a while.
  return Outbox(std::make_unique<Store>(std::move(sealer), *std::move(database), maxBytes));
}

/// Adds entries inside a transaction, with statements prepared once for all of them.
class Outbox::Store::Adder {
 public:
  explicit Adder(Store& store)
      : known_(store.database.prepare(
            "SELECT id, revision, state, digest, changed, dropped FROM delivery WHERE visit=?1")),
        insert_(store.database.prepare(
            "INSERT INTO delivery (key, destination, visit, revision, lane, digest, resources,"
            " state, due, created, changed, label, body)"
            " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, 'ready', ?8, ?8, ?8, ?9, ?10)")),
        erase_(store.database.prepare("DELETE FROM delivery WHERE id=?1")),
        store_(store) {}

  Added add(const Entry& entry, const Sealed& sealed, Time now) {
    const Known known = look(entry, sealed);
    if (known.version && !known.dropped) return *known.version;
    if (known.version) erase(known.version->id);
    Added out = insert(entry, sealed, now);
    out.reason = known.visit ? doubt(out, entry.revision) : "";
    if (out.reason.empty()) out.reason = entry.hold;
    if (!out.reason.empty()) hold(out, now);
    return out;
  }

 private:
  /// What is there of a visit.
  struct Known {
    bool visit = false;            ///< some revision of it
    std::optional<Added> version;  ///< this revision
    bool dropped = false;          ///< by a person
  };

  Known look(const Entry& entry, const Sealed& sealed) {
    Known out;
    known_.blob(1, sealed.visit);
    while (known_.step()) {
      out.visit = true;
      if (known_.integer(1) != entry.revision) continue;
      const bool same = known_.bytes(3) == sealed.digest;
      out.version = Added{same ? Added::How::Present : Added::How::Differs,
                          stateOf(known_.bytes(2)).value_or(State::Held),
                          known_.integer(0),
                          timeOf(known_.integer(4)),
                          sealed.lane,
                          sealed.visit,
                          ""};
      out.dropped = known_.integer(5) != 0;
    }
    known_.reset();
    return out;
  }

  /// What a person dropped may come again: that it is sent again is a decision too. It becomes
  /// another row, since a try of this one may be under way, whose end says nothing of the other.
  void erase(std::int64_t id) {
    erase_.bind(1, id).step();
    erase_.reset();
  }

  /// Why an entry must not be sent after what is there, or "".
  std::string doubt(const Added& added, std::int32_t revision) {
    const Doubt doubt = store_.doubtOf(added.visit, revision, added.lane);
    return std::string(doubt.late ? kLate : doubt.moved ? kMoved : "");
  }

  void hold(Added& added, Time now) {
    added.how = Added::How::Held;
    added.state = State::Held;
    store_.changeState(added.id, State::Held, added.reason, now);
  }

  Added insert(const Entry& entry, const Sealed& sealed, Time now) {
    insert_.blob(1, sealed.key).text(2, entry.destination).blob(3, sealed.visit);
    insert_.bind(4, entry.revision).blob(5, sealed.lane).blob(6, sealed.digest);
    insert_.bind(7, entry.resources).bind(8, count(now));
    insert_.blob(9, sealed.label).blob(10, sealed.body).step();
    insert_.reset();
    return {Added::How::New,
            State::Ready,
            store_.database.lastId(),
            now,
            sealed.lane,
            sealed.visit,
            ""};
  }

  Statement known_;
  Statement insert_;
  Statement erase_;
  Store& store_;
};

Result<std::vector<Added>> Outbox::add(std::span<const Entry> entries, Time now) {
  return add(entries, {}, now);
}

Result<std::vector<Added>> Outbox::add(std::span<const Entry> entries,
                                       std::span<const Message> messages, Time now) {
  std::optional<Packer> packer;  // what takes long is done before the store is locked
  std::deque<Sealed> made;
  std::vector<const Sealed*> ready;
  ready.reserve(entries.size());
  for (const Entry& entry : entries) {
    if (!entry.sealed && !packer) packer.emplace(state_->sealer);
    if (!entry.sealed) made.push_back(sealed(entry, state_->sealer, *packer));
    ready.push_back(entry.sealed ? &*entry.sealed : &made.back());
  }
  const std::scoped_lock lock(state_->mutex);
  std::vector<Added> out;
  if (Issues issues = state_->database.cap(state_->maxBytes); !issues.empty()) return issues;
  Issues issues = state_->transaction([&] {
    Store::Adder adder(*state_);
    for (std::size_t i = 0; i < entries.size(); ++i) {
      out.push_back(adder.add(entries[i], *ready[i], now));
    }
    state_->remember(messages, now);
  });
  state_->leaveRoom();
  if (!issues.empty()) return issues;
  return out;
}

bool Outbox::full() {
  const std::scoped_lock lock(state_->mutex);
  const auto pages = [this](std::string_view what) {
    return std::stoull(state_->database.ask("PRAGMA " + std::string(what)).value_or("0"));
  };
  const std::uint64_t used = (pages("page_count") - pages("freelist_count")) * kPageBytes;
  return state_->maxBytes > 0 && used + state_->maxBytes / kLittle >= state_->maxBytes;
}

Issues Outbox::settle(std::span<const Mark> marks, Time now) {
  const std::scoped_lock lock(state_->mutex);
  return state_->transaction([&] {
    Statement update = state_->database.prepare(
        "UPDATE delivery SET state=?2, step=?3, attempts=?4, due=?5, changed=?6, reason=?7,"
        " receipt=?8, strikes=?9, resources=CASE WHEN ?10 > 0 THEN ?10 ELSE resources END"
        " WHERE id=?1 AND dropped=0");
    for (const Mark& mark : marks) {
      update.bind(1, mark.id).text(2, word(mark.state));
      update.text(3, mark.step == Step::Send ? "send" : "confirm");
      update.bind(4, mark.attempts).bind(5, count(mark.due)).bind(6, count(now));
      update.bind(9, mark.strikes).bind(10, mark.resources);
      if (!mark.reason.empty()) {
        update.blob(7, state_->packer.pack(mark.reason, contextOf("reason", mark.id)));
      }
      if (!mark.receipt.empty()) {
        update.blob(8, state_->packer.pack(mark.receipt, contextOf("receipt", mark.id)));
      }
      update.step();
      update.reset();
    }
  });
}

}  // namespace footbridge::outbox
