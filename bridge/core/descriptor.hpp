#pragma once
// A file descriptor that closes itself.

#include <unistd.h>

namespace footbridge {

/// Takes over what open() and its like gave: below 0 nothing was opened, and errno says why.
class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;

  int get() const { return fd_; }

 private:
  int fd_;
};

}  // namespace footbridge
