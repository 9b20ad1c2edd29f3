#pragma once
// One transaction to a record server over HTTP, and what it answered. No queue and no second try.

#include <string>

#include "core/result.hpp"
#include "deliver/transport.hpp"

namespace footbridge::deliver {

/// What a record server made of one bundle, each of whose entries it has answered.
struct Receipt {
  std::size_t created = 0;  ///< entries newly made
  std::size_t present = 0;  ///< entries that were there already
};

/// A connection to one record server, kept open between bundles.
class Poster {
 public:
  /// `base` is one of allowedBase().
  explicit Poster(std::string base);

  /// Posts a transaction bundle to the server's base. It has arrived only if the server answers
  /// each of its entries with 200 or 201. Issues: of type Structure if this is no transaction
  /// bundle (nothing is sent then); fatal and Transient if the server could not be reached; else
  /// what the server refused, by the codes and places of its OperationOutcome. Its free text is
  /// left out, since it may repeat what was sent of the patient.
  Result<Receipt> post(std::string bundle);

 private:
  Transport transport_;
};

}  // namespace footbridge::deliver
