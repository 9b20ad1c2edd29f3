#include <gtest/gtest.h>
#include <unistd.h>

#include "deliver/sender.hpp"
#include "support/wire_server.hpp"

namespace footbridge::deliver {
namespace {

using outbox::State;
using std::chrono::milliseconds;

class BindTest : public ::testing::Test {
 protected:
  BindTest() {
    std::filesystem::create_directories(folder_);
    outbox_.emplace(*outbox::Outbox::open(
        folder_ / "outbox.db", *Sealer::fromKeyFile(folder_ / "key", Sealer::Absent::Create), 0));
  }
  ~BindTest() override { std::filesystem::remove_all(folder_); }

  static outbox::Time now() {
    return std::chrono::floor<milliseconds>(std::chrono::system_clock::now());
  }

  std::int64_t add(std::int32_t revision) {
    const std::string bundle =
        R"({"resourceType":"Bundle","type":"transaction","entry":[{"fullUrl":"urn:uuid:a",)"
        R"("resource":{"resourceType":"Observation"},"request":{"method":"PUT",)"
        R"("url":"Observation?identifier=s%7CA-1"}}]})";
    const outbox::Entry entry{
        "gp", "s", "A-1", revision, "p", "digest " + std::to_string(revision), bundle, 1, {}};
    return outbox_->add({&entry, 1}, now())->at(0).id;
  }

  /// Sends the rows to a server that takes what it is sent; gives what it was sent.
  std::vector<test::WireRequest> send(const std::vector<std::int64_t>& rows) {
    test::WireServer server(std::vector(rows.size(), test::storedAnswer(200)));
    config::Server where;
    where.base = "http://127.0.0.1:" + std::to_string(server.port()) + "/fhir";
    where.readBack = config::ReadBack::Never;
    Sender sender(
        where, Patience{}, *outbox_, [](const Event&) {}, -1);
    std::vector<Job> jobs;
    for (const std::int64_t id : rows) jobs.push_back(jobOf(*outbox_->find(id)));
    sender.give(std::move(jobs));
    sender.finish();
    outcome_ = sender.run();
    return server.requests();
  }

  std::filesystem::path folder_ =
      std::filesystem::temp_directory_path() / ("footbridge-bind-" + std::to_string(::getpid()));
  std::optional<outbox::Outbox> outbox_;
  Outcome outcome_;
};

/// The answer to the first is not marked yet when the second has its turn.
TEST_F(BindTest, ACorrectionIsBoundToWhatWasAnsweredJustNow) {
  const auto requests = send({add(1), add(2)});
  ASSERT_EQ(requests.size(), 2U);
  EXPECT_EQ(requests[0].body.find("ifMatch"), std::string::npos);
  EXPECT_NE(requests[1].body.find(R"("ifMatch":"W/\"1\"")"), std::string::npos) << requests[1].body;
  EXPECT_EQ(outcome_.delivered, 2U);
}

TEST_F(BindTest, ACorrectionIsHeldWhereTheEarlierPayloadWasErased) {
  const std::int64_t first = add(1);
  ASSERT_EQ(send({first}).size(), 1U);
  ASSERT_EQ(*outbox_->erasePayloads(now() + milliseconds(1000)), 1);
  const std::int64_t second = add(2);
  EXPECT_TRUE(send({second}).empty());
  EXPECT_EQ(outbox_->find(second)->state, State::Held);
  EXPECT_NE(outbox_->find(second)->reason.find("was erased"), std::string::npos)
      << outbox_->find(second)->reason;
  ASSERT_TRUE(outbox_->release(second, now()).empty());
  const auto requests = send({second});
  ASSERT_EQ(requests.size(), 1U);
  EXPECT_EQ(requests[0].body.find("ifMatch"), std::string::npos);
  EXPECT_EQ(outbox_->find(second)->state, State::Delivered);
}

}  // namespace
}  // namespace footbridge::deliver
