// How the service takes files of watched folders.

#include <future>

#include "app/replies.hpp"
#include "app/service.hpp"

namespace footbridge::app {
namespace {

using config::WatchedFolder;
using serve::Level;

Submission::Form formOf(WatchedFolder::Format format) {
  switch (format) {
    case WatchedFolder::Format::Ndjson:
      return Submission::Form::Lines;
    case WatchedFolder::Format::Csv:
      return Submission::Form::Table;
    case WatchedFolder::Format::Hl7v2:
      return Submission::Form::Messages;
    case WatchedFolder::Format::Fhir:
      return Submission::Form::Resources;
    default:
      return Submission::Form::Detect;
  }
}

std::string_view word(FileFate::Kind kind) {
  if (kind == FileFate::Kind::Later) return "later";
  return kind == FileFate::Kind::Taken ? "done" : "set-aside";
}

FileFate::Kind kindOf(int status) {
  if (status == 503) return FileFate::Kind::Later;
  return status < 300 ? FileFate::Kind::Taken : FileFate::Kind::Refused;
}

}  // namespace

FileFate Service::takeFile(const WatchedFolder& folder, std::string bytes) {
  std::promise<FileFate> promise;
  Submission submission;
  submission.body = std::move(bytes);
  submission.form = formOf(folder.format);
  submission.refused = Submission::Refused::Leave;
  submission.map = maps_.table(folder.map);
  submission.settings = maps_.messages(folder.map);
  submission.names = maps_.resources(folder.map);
  submission.settled = [this, &promise](const Settled& so) {
    const serve::Response told = settled(so);
    promise.set_value({kindOf(told.status), issuesOf(so), told.status, told.about});
  };
  // Nothing is taken that the trail could not tell.
  if (trailFailed_ || !desk_->submit(std::move(submission))) return {};
  return promise.get_future().get();
}

/// The names of files may hold those of patients: nothing of them is told.
void Service::noteFile(const WatchedFolder& folder, const FileFate& fate) {
  const std::string outcome(word(fate.kind));
  metrics_.count("footbridge_folder_files_total", outcome);
  const std::string about = fate.about.empty() ? outcome : outcome + "; " + fate.about;
  noteAccess({serve::stamp(), "folder " + folder.name, "local", "FILE", about, fate.status, ""},
             "file", 0);
}

FolderSite Service::folderSite(const WatchedFolder& folder) {
  FolderSite out;
  out.take = [this, &folder](std::string bytes) { return takeFile(folder, std::move(bytes)); };
  out.note = [this, &folder](const FileFate& fate) { noteFile(folder, fate); };
  out.trouble = [this, &folder](const std::string& because) {
    alarms_.folder(folder.name, because);
  };
  out.folders = [this, &folder](std::size_t count) {
    journal_.write(Level::Warning, "sub-folders",
                   {{"folder", folder.name},
                    {"count", std::to_string(count)},
                    {"text", "Nothing is taken from folders below a watched one."}});
  };
  return out;
}

void Service::watchFolders() {
  for (const WatchedFolder& folder : config_.serve.folders) {
    journal_.write(Level::Info, "watching",
                   {{"folder", folder.name}, {"path", folder.path.string()}});
    folders_.push_back(std::make_unique<FolderWatch>(folder, folderSite(folder)));
  }
}

}  // namespace footbridge::app
