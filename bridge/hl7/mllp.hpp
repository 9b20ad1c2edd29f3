#pragma once
// The minimal lower layer protocol: a message stands between 0x0B and 0x1C 0x0D
// (hl7.eu/refactored/transport01mllp.html). Pure: bytes in, messages out, no socket.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace footbridge::hl7 {

inline constexpr char kFrameStart = '\x0B';
inline constexpr char kFrameEnd = '\x1C';
inline constexpr char kFrameReturn = '\x0D';

/// A message with its frame around it: to be written in one piece.
std::string framed(std::string_view message);

/// Takes frames apart however the bytes arrive. What stands between frames is counted and dropped;
/// a frame beyond the limit is dropped to its end and counted, and the next one is taken again.
class Deframer {
 public:
  static constexpr std::size_t kMessageLimit = 8U << 20U;

  explicit Deframer(std::size_t limit = kMessageLimit) : limit_(limit) {}

  /// The messages that these bytes complete, in order.
  std::vector<std::string> take(std::string_view bytes);

  /// A frame that is complete.
  struct Frame {
    std::string message;
    bool whole = true;  ///< false: it was too large, and this is how it began
  };

  /// The same with the beginnings of those that were too large in their places.
  std::vector<Frame> takeAll(std::string_view bytes);

  /// True between the beginning of a frame and its end: the short time-out applies.
  bool inFrame() const { return state_ != State::Between; }

  std::size_t strayBytes() const { return stray_; }       ///< between frames, line ends left out
  std::size_t oversized() const { return oversized_; }    ///< frames dropped for their size
  std::size_t unfinished() const { return unfinished_; }  ///< frames broken off by another's start

  /// What has come of a frame that is not complete.
  std::string_view partial() const { return message_; }

 private:
  enum class State : std::uint8_t { Between, Inside, EndSeen };

  bool step(char c);
  void append(char c);

  std::size_t limit_;
  State state_ = State::Between;
  bool tooLong_ = false;
  std::string message_;
  std::size_t stray_ = 0;
  std::size_t oversized_ = 0;
  std::size_t unfinished_ = 0;
};

}  // namespace footbridge::hl7
