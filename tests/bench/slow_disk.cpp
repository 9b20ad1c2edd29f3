// Preloaded, makes every flush to the disk take FLUSH_MICROSECONDS longer: what a commit costs is
// the disk's doing, and a disk that answers from its own memory hides what waiting for one together
// is worth.

#include <dlfcn.h>
#include <sys/prctl.h>

#include <cstdlib>
#include <ctime>

namespace {

void wait() {
  static const long kMicroseconds = [] {
    const char* text = std::getenv("FLUSH_MICROSECONDS");
    return text == nullptr ? 0L : std::atol(text);
  }();
  prctl(PR_SET_TIMERSLACK, 1UL, 0UL, 0UL, 0UL);  // else the kernel wakes up to 50 us late
  timespec left{kMicroseconds / 1'000'000, kMicroseconds % 1'000'000 * 1'000};
  while (nanosleep(&left, &left) != 0) {
  }
}

int flush(const char* name, int file) {
  using Flush = int (*)(int);
  wait();
  return reinterpret_cast<Flush>(dlsym(RTLD_NEXT, name))(file);
}

}  // namespace

extern "C" int fdatasync(int file) { return flush("fdatasync", file); }
extern "C" int fsync(int file) { return flush("fsync", file); }
