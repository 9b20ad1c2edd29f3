#pragma once
// A batch of reads, one by one, for servers that take no batches. Pure.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "deliver/transport.hpp"

namespace footbridge::deliver {

/// True if the answer refuses a batch as such. A server that stores transactions may yet take no
/// batches, whatever its statement says; to the reads in one it would answer inside a bundle.
bool refusesBatch(const Answer& answer);

class Reads {
 public:
  /// Of a batch of reads as readBackRequest() makes it; it holds at least one.
  explicit Reads(std::string_view batch);

  /// The path to GET now.
  std::string next() const;

  /// Takes the answer to next(). Nothing: go on. An answer: all in one, as a server would have
  /// answered the batch; or the one that ended it, if a read failed for another reason than that
  /// the resource is not there.
  std::optional<Answer> take(const Answer& answer);

 private:
  std::vector<std::string> paths_;
  std::size_t at_ = 0;
  std::string entries_;
};

}  // namespace footbridge::deliver
