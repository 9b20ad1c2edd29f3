#pragma once
// What was set aside, kept so that it can be corrected and fed again.

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "app/pipeline.hpp"

namespace footbridge::app {

/// A name for a file: what may stand in one, and enough of a digest to keep different ones apart.
std::string fileStem(std::string_view name, std::string_view distinct);

/// The name of a table without its ending and without the digest that an earlier run gave it.
std::string tableStem(std::string_view input);

/// The rows of tables that were set aside: for each table a file with its header and these rows as
/// they came, and beside it the reasons for people. Memory does not grow with the rows.
class SetAsideRows {
 public:
  explicit SetAsideRows(std::filesystem::path folder);
  ~SetAsideRows();
  SetAsideRows(const SetAsideRows&) = delete;
  SetAsideRows& operator=(const SetAsideRows&) = delete;

  /// Adds the rows of an outcome whose text has an original. Issues if they cannot be written.
  Issues take(const intake::Original& original, const Outcome& outcome);

  /// Gives the files of the last table their names.
  Issues finish();

 private:
  struct Table;
  std::filesystem::path folder_;
  std::unique_ptr<Table> table_;
};

/// How inputs come: each a text of its own, as rows of tables, as messages of HL7 v2, or as
/// resources of FHIR.
enum class InputForm : std::uint8_t { Texts, Tables, Messages, Resources };

/// Everything that was set aside, in one folder: what came, and beside it the reasons.
class SetAside {
 public:
  SetAside(std::filesystem::path folder, InputForm form)
      : folder_(std::move(folder)), form_(form), rows_(folder_) {}

  /// Keeps one input that was refused. Issues if it cannot be written.
  Issues take(const intake::Text& text, const Outcome& outcome);

  /// Gives the last files their names. Only then all that was kept is on the disk.
  Issues finish();

 private:
  Issues write(const std::string& name, std::string_view bytes);
  Issues takeText(std::string_view bytes, const Outcome& outcome);
  Issues takeTable(const Outcome& outcome);
  Issues takeMessage(const intake::Text& text, const Outcome& outcome);

  std::filesystem::path folder_;
  InputForm form_;
  SetAsideRows rows_;
  bool unsynced_ = false;
};

}  // namespace footbridge::app
