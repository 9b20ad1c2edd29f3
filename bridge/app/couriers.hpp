#pragma once
// One courier for each destination: sends on and on, and begins again when it had to give up.

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "config/config.hpp"
#include "deliver/sender.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::app {

/// What couriers tell of. By their threads.
struct CourierNews {
  /// A row's new state is stored.
  std::function<void(const std::string& destination, const deliver::Event&)> event;
  /// Sending stopped, "" once it goes on: then nothing arrives there until a person acts, or for a
  /// while. The reason may hold what a server said.
  std::function<void(const std::string& destination, const std::string& because)> trouble;
  /// What a server lacks though it is sent to. Of what it said there are only words of standards.
  std::function<void(const std::string& destination, const std::string& sentence)> warning;
};

class Couriers {
 public:
  Couriers(const std::vector<config::Destination>& to, outbox::Outbox& outbox, CourierNews news);

  /// Ends as stop() does.
  ~Couriers();
  Couriers(const Couriers&) = delete;
  Couriers& operator=(const Couriers&) = delete;

  /// New rows for a destination, by its place in the list. By any thread.
  void give(std::size_t destination, std::vector<deliver::Job> jobs);

  /// A person decided about rows: looks into the outbox again, without any pause. By any thread.
  void lookAgain();

  /// Lets what is under way end and returns when it has; the rest stays ready.
  void stop();

 private:
  struct Courier;
  CourierNews news_;
  std::vector<std::unique_ptr<Courier>> couriers_;
};

}  // namespace footbridge::app
