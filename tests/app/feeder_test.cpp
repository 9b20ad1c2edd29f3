#include "app/feeder.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include <atomic>
#include <string>
#include <thread>

#include "support/wire_server.hpp"

namespace footbridge::app {
namespace {

using deliver::Job;
using std::chrono::milliseconds;

/// What is stored is "recipe NAME", and its bundle "bundle of recipe NAME".
class FeederTest : public ::testing::Test {
 protected:
  FeederTest() {
    outbox_.unfoldBy([this](std::string bytes) -> Result<std::string> {
      if (std::this_thread::get_id() == sending_) ++madeBySender_;
      if (bytes == slow_) std::this_thread::sleep_for(milliseconds(200));
      return "bundle of " + std::move(bytes);
    });
  }
  ~FeederTest() override { std::filesystem::remove_all(folder_); }

  static std::filesystem::path fresh() {
    auto out = std::filesystem::temp_directory_path() /
               ("footbridge-feeder-" + std::to_string(::getpid()));
    std::filesystem::create_directories(out);
    return out;
  }

  /// So many more rows, all of one patient, so that they are sent in their order.
  std::vector<Job> store(int count) {
    std::vector<Job> out;
    for (int i = 0; i < count; ++i) {
      const std::string name = "A-" + std::to_string(++stored_);
      const outbox::Entry entry{"gp", "s", name, 1, "p", "digest", "recipe " + name, 1, {}};
      const outbox::Time now = std::chrono::floor<milliseconds>(std::chrono::system_clock::now());
      out.push_back(deliver::jobOf(*outbox_.find(outbox_.add({&entry, 1}, now)->at(0).id)));
    }
    return out;
  }

  /// Runs a sender until nothing of what was given is left.
  std::vector<std::string> run(test::WireServer& server, Feeder& feeder, std::size_t wanted,
                               const std::function<void(deliver::Sender&)>& before) {
    config::Server where;
    where.base = "http://127.0.0.1:" + std::to_string(server.port()) + "/fhir";
    where.readBack = config::ReadBack::Never;  // the sender makes them again to compare
    std::size_t told = 0;
    deliver::Sender* running = nullptr;
    deliver::Sender sender(
        where, deliver::Patience{}, outbox_,
        [&](const deliver::Event& event) {
          feeder.tried(event.id);
          if (++told == wanted) running->finish();
        },
        -1);
    running = &sender;
    sending_ = std::this_thread::get_id();
    before(sender);
    EXPECT_EQ(sender.run().delivered, wanted);
    feeder.end();
    std::vector<std::string> bodies;
    for (const test::WireRequest& request : server.requests()) bodies.push_back(request.body);
    return bodies;
  }

  static std::vector<std::string> bundles(int from, int to) {
    std::vector<std::string> out;
    for (int i = from; i <= to; ++i) out.push_back("bundle of recipe A-" + std::to_string(i));
    return out;
  }

  std::filesystem::path folder_ = fresh();
  outbox::Outbox outbox_ = *outbox::Outbox::open(
      folder_ / "outbox.db", *Sealer::fromKeyFile(folder_ / "key", Sealer::Absent::Create), 0);
  std::atomic<std::thread::id> sending_{};
  std::atomic<int> madeBySender_ = 0;
  std::string slow_;  ///< what takes long to be made
  int stored_ = 0;
};

TEST_F(FeederTest, MakesBundlesInTheirOrderAndInAnotherThreadThanTheOneThatSends) {
  test::WireServer server(std::vector<test::WireAnswer>(20, test::storedAnswer()));
  Feeder feeder(outbox_);
  feeder.expect();
  const auto bodies = run(server, feeder, 20, [&](deliver::Sender& sender) {
    feeder.give(store(5));
    feeder.feed(sender, {});
    feeder.give(store(15));
  });
  EXPECT_EQ(bodies, bundles(1, 20));
  EXPECT_EQ(madeBySender_, 0);
}

/// Others are made meanwhile, and wait for it.
TEST_F(FeederTest, KeepsTheOrderWhereOneBundleTakesLonger) {
  test::WireServer server(std::vector<test::WireAnswer>(40, test::storedAnswer()));
  slow_ = "recipe A-2";
  Feeder feeder(outbox_);
  feeder.expect();
  const auto bodies = run(server, feeder, 40, [&](deliver::Sender& sender) {
    feeder.give(store(40));
    feeder.feed(sender, {});
  });
  EXPECT_EQ(bodies, bundles(1, 40));
}

TEST_F(FeederTest, ForgetsWhatIsGivenWhileNobodyExpectsIt) {
  test::WireServer server({test::storedAnswer()});
  Feeder feeder(outbox_);
  feeder.give(store(3));
  feeder.expect();
  const auto bodies = run(server, feeder, 1, [&](deliver::Sender& sender) {
    feeder.give(store(1));
    feeder.feed(sender, {});
  });
  EXPECT_EQ(bodies, bundles(4, 4));
}

TEST_F(FeederTest, TellsASenderNothingThatItWasToldOfAlready) {
  test::WireServer server({test::storedAnswer(), test::storedAnswer()});
  Feeder feeder(outbox_);
  feeder.expect();
  const auto bodies = run(server, feeder, 2, [&](deliver::Sender& sender) {
    std::vector<Job> jobs = store(2);
    const std::int64_t first = jobs.front().id;
    sender.give({jobs.front()});
    feeder.give(std::move(jobs));
    feeder.feed(sender, {first});
  });
  EXPECT_EQ(bodies, bundles(1, 2));
}

/// A row may be stored, found by a sender, and be given only then.
TEST_F(FeederTest, TellsASenderNothingThatItFoundBeforeItWasGiven) {
  test::WireServer server({test::storedAnswer(), test::storedAnswer(), test::storedAnswer()});
  Feeder feeder(outbox_);
  feeder.expect();
  const auto bodies = run(server, feeder, 3, [&](deliver::Sender& sender) {
    std::vector<Job> jobs = store(2);
    sender.give({jobs.front(), jobs.back()});
    feeder.feed(sender, {jobs.front().id, jobs.back().id});
    feeder.give(std::move(jobs));
    feeder.give(store(1));
  });
  EXPECT_EQ(bodies, bundles(1, 3));
}

TEST_F(FeederTest, GivesTheNextSenderNothingThatWasMeantForTheOneBefore) {
  Feeder feeder(outbox_);
  {
    test::WireServer server({test::storedAnswer()});
    feeder.expect();
    run(server, feeder, 1, [&](deliver::Sender& sender) {
      feeder.give(store(1));
      feeder.feed(sender, {});
    });
  }
  feeder.expect();
  feeder.give(store(2));
  feeder.end();  // it never came
  test::WireServer server({test::storedAnswer()});
  feeder.expect();
  const auto bodies = run(server, feeder, 1, [&](deliver::Sender& sender) {
    feeder.give(store(1));
    feeder.feed(sender, {});
  });
  EXPECT_EQ(bodies, bundles(4, 4));
}

TEST_F(FeederTest, TellsASenderThatDoesNotGetOnOfEverything) {
  constexpr int kMany = 300;  // more than are made ahead
  test::WireServer server(std::vector<test::WireAnswer>(kMany, test::storedAnswer()));
  Feeder feeder(outbox_);
  feeder.expect();
  const auto bodies = run(server, feeder, kMany, [&](deliver::Sender& sender) {
    feeder.give(store(kMany));
    feeder.feed(sender, {});
    std::this_thread::sleep_for(milliseconds(3'000));  // longer than it is waited for
  });
  EXPECT_EQ(bodies, bundles(1, kMany));
  EXPECT_GT(madeBySender_, 0);
}

}  // namespace
}  // namespace footbridge::app
