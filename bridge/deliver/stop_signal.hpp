#pragma once
// SIGTERM and SIGINT as something that can be waited for, so that work under way can end well.

namespace footbridge::deliver {

/// Takes both signals for the whole process as long as it lives; make it before any thread.
class StopSignal {
 public:
  StopSignal();
  ~StopSignal();
  StopSignal(const StopSignal&) = delete;
  StopSignal& operator=(const StopSignal&) = delete;

  /// Becomes readable when a signal came, and stays so.
  int descriptor() const { return descriptor_; }
  bool raised() const;

 private:
  int descriptor_ = -1;
};

}  // namespace footbridge::deliver
