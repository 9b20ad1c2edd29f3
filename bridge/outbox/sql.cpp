#include "outbox/sql.hpp"

#include <sqlite3.h>
#include <sys/vfs.h>

#include <array>
#include <cassert>
#include <unordered_map>

namespace footbridge::outbox {
namespace {

constexpr int kBusyMilliseconds = 5'000;
constexpr std::size_t kKeptStatements = 64;  ///< prepared, by their text; ours are fewer

/// What a person can do about a failure of the store, by its primary code.
struct Advice {
  int code;
  std::string_view text;
  std::string_view mend;
};
constexpr std::array kAdvice{
    Advice{SQLITE_FULL, "there is no room left",
           "Make room (or raise max_megabytes) and run the same command again."},
    Advice{SQLITE_READONLY, "it may only be read",
           "Give this user the right to write the file and its folder."},
    Advice{
        SQLITE_BUSY, "another process is using it",
        "If it is the running service, hand readings in to it by POST, or stop it first; if it is "
        "another footbridge command, wait until that has ended. Then run this one again."},
    Advice{SQLITE_CANTOPEN, "it cannot be opened",
           "Check that the folder is there and that this user may write to it."},
    Advice{SQLITE_NOTADB, "it is no outbox", "Check the path: this is a file of another kind."},
    Advice{SQLITE_CORRUPT, "its bytes are damaged",
           "Restore it from the last backup; keep the damaged file for inspection."},
    Advice{SQLITE_IOERR, "the disk reported an error",
           "Check the disk, its quota and the limits of this user, then run the command again."}};

Issue failure(const std::string& file, int code, const std::string& said) {
  const Advice* advice = nullptr;
  for (const Advice& each : kAdvice) {
    if (each.code == (code & 0xFF)) advice = &each;
  }
  std::string text = "The outbox " + file + " cannot be used: ";
  if (advice != nullptr) text += std::string(advice->text) + " (" + said + ").";
  if (advice == nullptr) text += said + ".";
  text += " What was not acknowledged is not stored.";
  return {Severity::Fatal,
          IssueType::NoStore,
          "outbox",
          "",
          text,
          std::string(advice == nullptr ? "See the message." : advice->mend)};
}

/// WAL needs memory shared on one machine, which network file systems do not give
/// (sqlite.org/wal.html). Numbers: linux/magic.h and statfs(2).
bool onNetwork(const std::filesystem::path& file) {
  struct statfs status = {};
  const std::filesystem::path folder = file.has_parent_path() ? file.parent_path() : ".";
  if (::statfs(folder.c_str(), &status) != 0) return false;
  const auto type = static_cast<std::uint32_t>(status.f_type);
  return type == 0x6969U || type == 0x517BU || type == 0xFF534D42U || type == 0xFE534D42U;
}

}  // namespace

using Handle = std::unique_ptr<sqlite3_stmt, decltype(&sqlite3_finalize)>;

struct Database::State {
  std::string file;
  std::unique_ptr<sqlite3, decltype(&sqlite3_close_v2)> handle{nullptr, &sqlite3_close_v2};
  int failed = SQLITE_OK;
  std::string said;
  std::unordered_map<std::string, Handle> idle;  ///< goes before the connection

  void note(int code) {
    if (code == SQLITE_OK || code == SQLITE_ROW || code == SQLITE_DONE || failed != SQLITE_OK) {
      return;
    }
    failed = code;
    said = sqlite3_errmsg(handle.get());
  }
};

struct Statement::State {
  Database::State* database;
  std::string sql;
  Handle handle{nullptr, &sqlite3_finalize};
};

Statement::Statement(std::unique_ptr<State> state) : state_(std::move(state)) {}

// Preparing costs more than most steps do: what was prepared is kept for the next one that asks.
Statement::~Statement() {
  if (!state_ || state_->handle == nullptr) return;
  reset();
  auto& idle = state_->database->idle;
  if (idle.size() >= kKeptStatements) idle.clear();
  idle.insert_or_assign(std::move(state_->sql), std::move(state_->handle));
}

Statement::Statement(Statement&&) noexcept = default;

Statement& Statement::bind(int at, std::int64_t value) {
  state_->database->note(sqlite3_bind_int64(state_->handle.get(), at, value));
  return *this;
}

Statement& Statement::text(int at, std::string_view value) {
  state_->database->note(sqlite3_bind_text64(state_->handle.get(), at, value.data(), value.size(),
                                             SQLITE_TRANSIENT, SQLITE_UTF8));
  return *this;
}

Statement& Statement::blob(int at, std::string_view value) {
  state_->database->note(
      sqlite3_bind_blob64(state_->handle.get(), at, value.data(), value.size(), SQLITE_TRANSIENT));
  return *this;
}

Statement& Statement::null(int at) {
  state_->database->note(sqlite3_bind_null(state_->handle.get(), at));
  return *this;
}

bool Statement::step() {
  if (state_->handle == nullptr) return false;
  const int code = sqlite3_step(state_->handle.get());
  state_->database->note(code);
  return code == SQLITE_ROW;
}

// What sqlite3_reset returns is the failure of the step before, which is known.
void Statement::reset() {
  sqlite3_reset(state_->handle.get());
  sqlite3_clear_bindings(state_->handle.get());
}

std::int64_t Statement::integer(int column) const {
  return sqlite3_column_int64(state_->handle.get(), column);
}

std::string Statement::bytes(int column) const {
  const void* data = sqlite3_column_blob(state_->handle.get(), column);
  const int size = sqlite3_column_bytes(state_->handle.get(), column);
  if (data == nullptr) return {};
  return {static_cast<const char*>(data), static_cast<std::size_t>(size)};
}

bool Statement::isNull(int column) const {
  return sqlite3_column_type(state_->handle.get(), column) == SQLITE_NULL;
}

Database::Database(std::unique_ptr<State> state) : state_(std::move(state)) {}
Database::~Database() = default;
Database::Database(Database&&) noexcept = default;

Result<Database> Database::open(const std::filesystem::path& file) {
  auto state = std::make_unique<State>();
  state->file = file.string();
  if (onNetwork(file)) {
    return Issue{Severity::Fatal,
                 IssueType::NoStore,
                 "outbox",
                 "",
                 "The outbox " + state->file + " would lie on a network file system.",
                 "Set `data` to a folder on a disk of this machine."};
  }
  // Nobody reads SQLite's own count of its memory, which takes a lock for every piece of it. Has no
  // effect on what is open already, and needs none.
  static_cast<void>(sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0));
  sqlite3* handle = nullptr;
  const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX;
  const int code = sqlite3_open_v2(file.c_str(), &handle, flags, nullptr);
  state->handle.reset(handle);
  if (code != SQLITE_OK) return failure(state->file, code, sqlite3_errstr(code));
  // SQLite falls back to reading where it may not write; that would show much later, and unclear.
  if (sqlite3_db_readonly(handle, "main") == 1) {
    return failure(state->file, SQLITE_READONLY, "this user may read it only");
  }
  sqlite3_extended_result_codes(handle, 1);
  sqlite3_busy_timeout(handle, kBusyMilliseconds);
  Database out(std::move(state));
  // The lock is taken before anything is read, so that a second process waits and is told why.
  Issues issues = out.run(
      "PRAGMA locking_mode=EXCLUSIVE; PRAGMA foreign_keys=ON; PRAGMA secure_delete=ON;"
      "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA journal_size_limit=67108864; "
      "PRAGMA wal_autocheckpoint=4000; PRAGMA cache_size=-16384;"
      "BEGIN EXCLUSIVE; COMMIT;");
  if (!issues.empty()) return issues;
  const bool durable =
      out.ask("PRAGMA journal_mode") == "wal" && out.ask("PRAGMA synchronous") == "2";
  if (!durable) return failure(out.state_->file, SQLITE_ERROR, "commits would not be durable");
  return out;
}

Issues Database::cap(std::uint64_t bytes) {
  if (bytes == 0) return {};
  return run("PRAGMA max_page_count=" + std::to_string(bytes / kPageBytes));
}

Statement Database::prepare(std::string_view sql) {
  auto out = std::make_unique<Statement::State>();
  out->database = state_.get();
  out->sql = sql;
  if (auto kept = state_->idle.extract(out->sql)) {
    out->handle = std::move(kept.mapped());
    return Statement(std::move(out));
  }
  sqlite3_stmt* handle = nullptr;
  state_->note(sqlite3_prepare_v3(state_->handle.get(), sql.data(), static_cast<int>(sql.size()),
                                  SQLITE_PREPARE_PERSISTENT, &handle, nullptr));
  out->handle.reset(handle);
  return Statement(std::move(out));
}

Issues Database::run(const std::string& sql) {
  state_->note(sqlite3_exec(state_->handle.get(), sql.c_str(), nullptr, nullptr, nullptr));
  return takeFailure();
}

Issues Database::takeFailure() {
  if (state_->failed == SQLITE_OK) return {};
  Issues out{failure(state_->file, state_->failed, state_->said)};
  state_->failed = SQLITE_OK;
  return out;
}

std::optional<std::string> Database::ask(std::string_view sql) {
  Statement statement = prepare(sql);
  if (!statement.step()) return std::nullopt;
  return statement.bytes(0);
}

std::int64_t Database::lastId() const { return sqlite3_last_insert_rowid(state_->handle.get()); }

int Database::changes() const { return sqlite3_changes(state_->handle.get()); }

}  // namespace footbridge::outbox
