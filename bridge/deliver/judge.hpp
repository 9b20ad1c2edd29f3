#pragma once
// From an answer to a verdict. Pure: no clock, no network.

#include <cstddef>
#include <string>
#include <vector>

#include "deliver/answer_table.hpp"
#include "deliver/transport.hpp"

namespace footbridge::deliver {

/// What the server said of one resource.
struct Stored {
  long status = 0;
  std::string location;  ///< "Observation/12" or with "/_history/3"; "" if it did not say
  std::string etag;
  std::string modified;  ///< when, as the server says; "" if it did not
};

struct Verdict {
  Act act = Act::Hold;  ///< never ReadEntries
  About about = About::Bundle;
  std::string reason;  ///< for people, with what to do; "" if all is well
  std::vector<Stored> stored;
  std::string evidence;   ///< JSON: both versions of what was read back and differs; "" if nothing
  bool compared = false;  ///< what the server stored was read back

  std::size_t created() const;  ///< resources newly made
  std::size_t present() const;  ///< resources that were there already, or updated
};

/// Judges the answer to a bundle of so many entries, sent as `sentAs` ("transaction" or "batch").
Verdict judge(const Answer& answer, std::size_t entries, std::string_view sentAs);

/// Judges the answer to a search for a resource that has to be there by now.
Verdict judgeSearch(const Answer& answer);

/// "Observation/12/_history/3" from an absolute or relative address of any base; "" if it is none.
std::string relativeLocation(std::string_view location);

/// The receipt as JSON; `request` is the X-Request-Id under which it was had.
std::string receiptOf(const Verdict& verdict, long status, std::string_view request);

}  // namespace footbridge::deliver
