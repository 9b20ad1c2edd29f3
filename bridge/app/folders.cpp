#include "app/folders.hpp"

#include <algorithm>
#include <future>
#include <sstream>

#include "app/report.hpp"
#include "core/file.hpp"
#include "serve/folder_watch.hpp"

namespace footbridge::app {
namespace {

using serve::Taken;

Submission::Form formOf(config::FileFormat format) {
  if (format == config::FileFormat::Table) return Submission::Form::Table;
  return format == config::FileFormat::Lines ? Submission::Form::Lines : Submission::Form::Detect;
}

/// What a person should know of a file: each assessment of which there is more to say than that it
/// is stored. "" if there is none.
std::string reasonsOf(const std::string& name, const Settled& so) {
  std::ostringstream out;
  for (const Item& item : so.items) {
    const auto counts = [](const Issue& issue) { return issue.severity != Severity::Information; };
    const bool told = std::any_of(item.issues.begin(), item.issues.end(), counts);
    const bool well = item.fate == Fate::Stored || item.fate == Fate::Known;
    if (well && !told) continue;
    out << name << (so.items.size() == 1 ? "" : item.place) << ": " << word(item.fate) << '\n';
    if (item.fate == Fate::Differs) {
      out << "  This revision was taken before with other content, which stands. A correction has a"
             " higher revision.\n";
    }
    for (const Issue& issue : item.issues) {
      if (counts(issue)) printIssue(out, issue);
    }
  }
  return out.str();
}

bool stored(const Settled& so) {
  return so.failures.empty() &&
         std::none_of(so.items.begin(), so.items.end(),
                      [](const Item& each) { return each.fate == Fate::Failed; });
}

}  // namespace

struct Folders::One {
  const config::WatchedFolder& of;
  std::uint64_t limit;
  Desk& desk;
  const FolderNews& news;
  bool troubled = false;
  std::unique_ptr<serve::FolderWatch> watch;  ///< goes first

  One(const config::WatchedFolder& folder, std::uint64_t most, Desk& where, const FolderNews& whom)
      : of(folder), limit(most), desk(where), news(whom) {
    watch = std::make_unique<serve::FolderWatch>(
        serve::WatchPlan{of.path, of.settle, of.poll},
        serve::WatchNews{[this](const std::string& name) { return take(name); },
                         [this](const std::string& name) { strange(name); },
                         [this](const std::string& because) { unreadable(because); }});
  }

  Taken take(const std::string& name);
  Taken refuse(const std::string& name, const Issue& issue);
  Taken putAway(const std::string& name, const std::filesystem::path& folder,
                const std::string& reasons);
  Taken later(const std::string& because);
  void strange(const std::string& name);
  void unreadable(const std::string& because);
  std::optional<Settled> handIn(const std::string& name, std::string bytes);
};

/// It stays where it is, since it is our side that cannot take it now.
Taken Folders::One::later(const std::string& because) {
  troubled = true;
  news.trouble(of.name, because);
  return Taken::Later;
}

void Folders::One::unreadable(const std::string& because) {
  if (!because.empty()) {
    later("The folder cannot be read: " + because + ".");
  } else if (std::exchange(troubled, false)) {
    news.trouble(of.name, "");
  }
}

/// A link or a pipe could lead anywhere.
void Folders::One::strange(const std::string& name) {
  std::error_code ignored;  // if it failed, so does the write
  std::filesystem::create_directories(of.setAside, ignored);
  const Issues failed = writeFileAtomically(
      of.setAside / (name + ".issues.txt"),
      name +
          ": left where it is\n  It is no plain file, and links are not followed. Put the file"
          " itself there.\n");
  if (!failed.empty()) later("Nothing can be written to its set_aside folder.");
}

std::optional<Settled> Folders::One::handIn(const std::string& name, std::string bytes) {
  std::promise<Settled> promise;
  std::future<Settled> settled = promise.get_future();
  Submission submission;
  submission.body = std::move(bytes);
  submission.name = name;
  submission.setAside = of.setAside;
  submission.form = formOf(of.format);
  submission.map = of.format == config::FileFormat::Table ? news.map(of.map) : nullptr;
  submission.settled = [&promise](Settled so) { promise.set_value(std::move(so)); };
  if (!desk.submit(std::move(submission))) return std::nullopt;
  return settled.get();
}

Taken Folders::One::take(const std::string& name) {
  if (!news.open()) return later("The audit trail cannot be written.");
  Result<std::string> bytes = readPlainFile(of.path / name, limit);
  if (!bytes) {
    const Issue& issue = bytes.issues().front();
    std::error_code ignored;
    if (!std::filesystem::exists(of.path / name, ignored)) return Taken::Away;
    if (issue.type == IssueType::TooLong) return refuse(name, issue);
    return later("A file in it cannot be read; see its rights.");
  }
  const std::optional<Settled> so = handIn(name, *std::move(bytes));
  if (!so) return later("Too much is waiting to be stored.");
  news.settled(of.name, *so);
  if (!stored(*so)) return later("What was in a file could not be stored; it is tried again.");
  return putAway(name, of.done, reasonsOf(name, *so));
}

Taken Folders::One::refuse(const std::string& name, const Issue& issue) {
  std::ostringstream reasons;
  reasons << name << ": set aside\n";
  printIssue(reasons, issue);
  return putAway(name, of.setAside, reasons.str());
}

Taken Folders::One::putAway(const std::string& name, const std::filesystem::path& folder,
                            const std::string& reasons) {
  std::error_code ignored;  // if it failed, so does the move, which says why
  std::filesystem::create_directories(folder, ignored);
  const Result<std::string> moved = moveInto(of.path / name, folder);
  if (!moved) return later("A file that was dealt with cannot be moved out of it.");
  const Issues failed =
      reasons.empty() ? Issues{} : writeFileAtomically(folder / (*moved + ".issues.txt"), reasons);
  if (!failed.empty()) {
    later("Nothing can be written to the folders beside it.");
  } else if (std::exchange(troubled, false)) {
    news.trouble(of.name, "");
  }
  return Taken::Away;
}

Folders::Folders(const std::vector<config::WatchedFolder>& folders, std::uint64_t limit, Desk& desk,
                 FolderNews news)
    : news_(std::move(news)) {
  for (const config::WatchedFolder& each : folders) {
    folders_.push_back(std::make_unique<One>(each, limit, desk, news_));
  }
}

Folders::~Folders() = default;

}  // namespace footbridge::app
