#pragma once
// The little of SQLite that the outbox needs, with errors as values. Only sql.cpp knows sqlite3.h.

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/result.hpp"

namespace footbridge::outbox {

/// A prepared statement. Bind, step, read, reset; a failure is kept by the database.
class Statement {
 public:
  ~Statement();
  Statement(Statement&&) noexcept;
  Statement& operator=(Statement&&) = delete;

  Statement& bind(int at, std::int64_t value);
  Statement& text(int at, std::string_view value);
  Statement& blob(int at, std::string_view value);
  Statement& null(int at);

  /// True while there is a row. False at the end and on failure: ask the database which.
  bool step();

  /// Ready for other values; ends the read that step() began.
  void reset();

  std::int64_t integer(int column) const;
  std::string bytes(int column) const;  ///< of a text or blob; "" for NULL
  bool isNull(int column) const;

 private:
  friend class Database;
  struct State;
  explicit Statement(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

/// A page of the file, as SQLite makes them by itself.
inline constexpr std::uint64_t kPageBytes = 4096;

/// One connection, used by one thread at a time.
class Database {
 public:
  /// Opens for this process alone: journal in WAL, every commit synced (synchronous=FULL), both
  /// read back.
  static Result<Database> open(const std::filesystem::path& file);
  ~Database();
  Database(Database&&) noexcept;
  Database& operator=(Database&&) = delete;

  /// Lets the file grow to so many bytes, or to what it has if that is more; 0 is no cap.
  Issues cap(std::uint64_t bytes);

  Statement prepare(std::string_view sql);

  /// Runs statements that yield nothing of interest; an issue if one fails.
  Issues run(const std::string& sql);

  /// What went wrong since the last call, if anything: NoStore, with what to do about it.
  Issues takeFailure();

  /// The first column of the first row, or nothing.
  std::optional<std::string> ask(std::string_view sql);

  std::int64_t lastId() const;
  int changes() const;

 private:
  friend class Statement;
  struct State;
  explicit Database(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::outbox
