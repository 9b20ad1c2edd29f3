#include <gtest/gtest.h>
#include <unistd.h>

#include <thread>

#include "deliver/sender.hpp"
#include "support/wire_server.hpp"

namespace footbridge::deliver {
namespace {

using std::chrono::milliseconds;

constexpr std::size_t kLarge = std::size_t{33} << 20U;  ///< two of them are kept, not three

class RoomTest : public ::testing::Test {
 protected:
  RoomTest() { std::filesystem::create_directories(folder_); }
  ~RoomTest() override { std::filesystem::remove_all(folder_); }

  /// One more job for the outbox. The bundle that comes along can be told from the one that is
  /// stored.
  std::vector<Job> job(outbox::Outbox& outbox, const std::string& name) {
    const outbox::Entry entry{"gp", "s", name, 1, name, "digest", "{}", 1, {}};
    const outbox::Time now = std::chrono::floor<milliseconds>(std::chrono::system_clock::now());
    Job out = jobOf(*outbox.find(outbox.add({&entry, 1}, now)->at(0).id));
    out.bundle.assign(kLarge, ' ');
    out.whole = true;
    return {std::move(out)};
  }

  outbox::Outbox open() {
    return *outbox::Outbox::open(folder_ / "outbox.db",
                                 *Sealer::fromKeyFile(folder_ / "key", Sealer::Absent::Create), 0);
  }

  static config::Server at(const test::WireServer& server) {
    config::Server where;
    where.base = "http://127.0.0.1:" + std::to_string(server.port()) + "/fhir";
    return where;
  }

  std::filesystem::path folder_ =
      std::filesystem::temp_directory_path() / ("footbridge-room-" + std::to_string(::getpid()));
};

TEST_F(RoomTest, WhoeverWaitsForItHasEveryBundleSentAsItCameAlong) {
  outbox::Outbox outbox = open();
  test::WireServer server(
      {test::storedAnswer(), test::storedAnswer(), test::storedAnswer(), test::storedAnswer()});
  Sender sender(
      at(server), Patience{}, outbox, [](const Event&) {}, -1);
  std::thread giver([&] {
    for (const char* name : {"A-1", "A-2", "A-3", "A-4"}) {
      sender.give(job(outbox, name));
      sender.waitForRoom();
    }
    sender.finish();
  });
  const Outcome out = sender.run();
  giver.join();
  EXPECT_EQ(out.delivered, 4U);
  const std::vector<test::WireRequest> requests = server.requests();
  ASSERT_EQ(requests.size(), 4U);
  for (const test::WireRequest& request : requests) EXPECT_EQ(request.body.size(), kLarge);
}

TEST_F(RoomTest, NobodyWaitsForASenderThatDoesNotGetOn) {
  outbox::Outbox outbox = open();
  test::WireServer server({});
  Sender sender(
      at(server), Patience{}, outbox, [](const Event&) {}, -1);
  for (const char* name : {"A-1", "A-2", "A-3"}) {
    sender.give(job(outbox, name));
    sender.waitForRoom();  // nobody runs it: comes back, or the test does not end
  }
  EXPECT_TRUE(server.requests().empty());
}

TEST_F(RoomTest, WhatFoundNoRoomIsFetchedFromTheOutbox) {
  outbox::Outbox outbox = open();
  test::WireServer server({test::storedAnswer(), test::storedAnswer(), test::storedAnswer()});
  Sender sender(
      at(server), Patience{}, outbox, [](const Event&) {}, -1);
  for (const char* name : {"A-1", "A-2", "A-3"}) sender.give(job(outbox, name));
  sender.finish();
  EXPECT_EQ(sender.run().delivered, 3U);
  std::size_t fetched = 0;
  for (const test::WireRequest& request : server.requests())
    fetched += request.body == "{}" ? 1 : 0;
  EXPECT_EQ(fetched, 1U);
}

}  // namespace
}  // namespace footbridge::deliver
