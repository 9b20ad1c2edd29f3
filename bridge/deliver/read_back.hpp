#pragma once
// After delivery: what did the server store? One batch of reads for each bundle.

#include <map>
#include <string>
#include <string_view>

#include "deliver/judge.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::deliver {

/// The batch that reads what the answer to `bundle` said was stored, and the record's patient where
/// one is looked for by identifier. `arrived` has a place for each entry of the bundle; a resource
/// whose place the server did not say is looked for by its identifier. "" if the bundle holds
/// nothing that is compared.
std::string readBackRequest(std::string_view bundle, const Verdict& arrived,
                            const outbox::Person& person);

/// Compares the answer to that batch with what was sent. Done if all is as sent; Hold with each
/// difference in the reason and both versions in `evidence`; Retry or RetryBounded if the server
/// did not answer for all. Places and versions are those of `arrived`, completed.
Verdict judgeReadBack(const Answer& answer, std::string_view bundle, const Verdict& arrived,
                      const outbox::Person& person);

}  // namespace footbridge::deliver
