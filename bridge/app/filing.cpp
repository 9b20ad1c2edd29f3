#include "app/filing.hpp"

#include "app/deployment.hpp"
#include "app/stems.hpp"
#include "deliver/bundle_marks.hpp"
#include "deliver/folder.hpp"

namespace footbridge::app {

std::optional<outbox::Mark> fileRow(outbox::Outbox& outbox, const config::Folder& folder,
                                    const outbox::Row& row, std::string& because) {
  outbox::Mark mark{
      row.id, outbox::State::Held, outbox::Step::Send, row.attempts + 1, clockTime(), "", ""};
  const Result<std::string> bundle = outbox.payload(row.id);
  const std::string stem = bundleStem({row.system, row.value}, row.revision);
  const Result<deliver::Filed> filed = bundle ? deliver::fileBundle(folder, stem, *bundle + "\n")
                                              : Result<deliver::Filed>(bundle.issues());
  if (filed) {
    mark.state = outbox::State::Delivered;
    mark.receipt = R"({"file":")" + stem + R"(.json"})";
    mark.resources = deliver::entriesOf(*bundle);
    return mark;
  }
  const Issue& issue = filed.issues().front();
  mark.reason = issue.text + " " + issue.mend;
  if (issue.type != IssueType::NoStore) return mark;
  because = mark.reason;
  return std::nullopt;
}

}  // namespace footbridge::app
