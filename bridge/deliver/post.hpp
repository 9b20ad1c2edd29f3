#pragma once
// One transaction to a record server over HTTP, and what it answered. No queue and no second try.

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/result.hpp"

namespace footbridge::deliver {

/// What a record server said of one bundle.
struct Receipt {
  long status = 0;                   ///< of the whole answer
  std::vector<std::string> entries;  ///< "201 Created" of each entry, in the order sent
  std::vector<std::string> locations;

  std::size_t created() const;  ///< entries newly made
  std::size_t present() const;  ///< entries that were there already
};

/// A connection to one record server, kept open between bundles. https is always verified; plain
/// http is taken for loopback addresses only. No redirect is followed and no proxy used.
class Poster {
 public:
  explicit Poster(std::string base);
  ~Poster();
  Poster(const Poster&) = delete;
  Poster& operator=(const Poster&) = delete;

  /// Posts the bundle to the server's base. An issue of type Transient if it could not be reached,
  /// with what the server's OperationOutcome says if it refused.
  Result<Receipt> post(std::string_view bundle);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// True if the address may be used: https, or http on a loopback host, without user or password.
bool allowedBase(const std::string& base);

}  // namespace footbridge::deliver
