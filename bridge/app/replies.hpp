#pragma once
// What the service answers about assessments.

#include "app/desk.hpp"
#include "serve/http.hpp"

namespace footbridge::app {

/// How a submission is read, by its media type; nothing for one that is not taken. Issues say what
/// is missing for one that is.
Result<Submission::Form> formOf(std::string_view mediaType);

/// The answer to a submission: an OperationOutcome, or the bundles of a dry run. 2xx only if
/// nothing of it was refused and all of it is stored.
serve::Response replyTo(const Settled& settled);

/// Every remark on every assessment, and what became of it.
Issues issuesOf(const Settled& settled);

/// Rows of one assessment as JSON.
std::string rowsText(const std::vector<outbox::Row>& rows);

/// The answer to issues that are nobody's submission.
serve::Response replyTo(const Issues& issues);

serve::Response jsonReply(std::string body);

}  // namespace footbridge::app
