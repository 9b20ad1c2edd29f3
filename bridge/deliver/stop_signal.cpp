#include "deliver/stop_signal.hpp"

#include <poll.h>
#include <pthread.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include <csignal>

namespace footbridge::deliver {
namespace {

sigset_t stops() {
  sigset_t out;
  sigemptyset(&out);
  sigaddset(&out, SIGTERM);
  sigaddset(&out, SIGINT);
  return out;
}

}  // namespace

StopSignal::StopSignal() {
  const sigset_t set = stops();
  pthread_sigmask(SIG_BLOCK, &set, nullptr);
  descriptor_ = ::signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
}

StopSignal::~StopSignal() {
  ::close(descriptor_);
  const sigset_t set = stops();
  pthread_sigmask(SIG_UNBLOCK, &set, nullptr);
}

bool StopSignal::raised() const {
  pollfd asked{descriptor_, POLLIN, 0};
  return ::poll(&asked, 1, 0) == 1;
}

}  // namespace footbridge::deliver
