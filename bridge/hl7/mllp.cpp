#include "hl7/mllp.hpp"

#include <utility>

namespace footbridge::hl7 {

std::string framed(std::string_view message) {
  std::string out;
  out.reserve(message.size() + 3);
  out += kFrameStart;
  out += message;
  out += kFrameEnd;
  out += kFrameReturn;
  return out;
}

void Deframer::append(char c) {
  if (message_.size() < limit_) {
    message_ += c;
  } else {
    tooLong_ = true;
  }
}

/// True if this byte ended a frame.
bool Deframer::step(char c) {
  if (c == kFrameStart) {
    if (state_ != State::Between) ++unfinished_;
    message_.clear();
    tooLong_ = false;
    state_ = State::Inside;
    return false;
  }
  if (state_ == State::Between) {
    if (c != '\r' && c != '\n') ++stray_;
    return false;
  }
  if (state_ == State::EndSeen && c == kFrameReturn) {
    state_ = State::Between;
    return true;
  }
  // An end mark that no return follows was a byte of the message.
  if (state_ == State::EndSeen) append(kFrameEnd);
  state_ = c == kFrameEnd ? State::EndSeen : State::Inside;
  if (state_ == State::Inside) append(c);
  return false;
}

std::vector<Deframer::Frame> Deframer::takeAll(std::string_view bytes) {
  std::vector<Frame> out;
  for (const char c : bytes) {
    if (!step(c)) continue;
    if (tooLong_) ++oversized_;
    out.push_back({std::exchange(message_, {}), !tooLong_});
  }
  return out;
}

std::vector<std::string> Deframer::take(std::string_view bytes) {
  std::vector<std::string> out;
  for (Frame& frame : takeAll(bytes)) {
    if (frame.whole) out.push_back(std::move(frame.message));
  }
  return out;
}

}  // namespace footbridge::hl7
