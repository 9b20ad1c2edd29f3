#include <gtest/gtest.h>
#include <unistd.h>

#include <thread>

#include "core/file.hpp"
#include "deliver/sender.hpp"
#include "support/wire_server.hpp"

namespace footbridge::deliver {
namespace {

using std::chrono::milliseconds;

class BearerTest : public ::testing::Test {
 protected:
  BearerTest() { std::filesystem::create_directories(folder_); }
  ~BearerTest() override { std::filesystem::remove_all(folder_); }

  void write(const std::string& text) {
    std::filesystem::remove(folder_ / "token");
    ASSERT_TRUE(createSecretFile(folder_ / "token", text).empty());
  }

  /// Sends one bundle.
  outbox::Row send(test::WireServer& server) {
    outbox::Outbox outbox = *outbox::Outbox::open(
        folder_ / "outbox.db", *Sealer::fromKeyFile(folder_ / "key", Sealer::Absent::Create), 0);
    const outbox::Entry entry{"gp", "s", "A-1", 1, "p", "digest", "{}", 1, {}};
    const outbox::Time now = std::chrono::floor<milliseconds>(std::chrono::system_clock::now());
    const std::int64_t id = outbox.add({&entry, 1}, now)->at(0).id;
    config::Server where;
    where.base = "http://127.0.0.1:" + std::to_string(server.port()) + "/fhir";
    where.bearerFile = folder_ / "token";
    Sender sender(
        where, Patience{}, outbox, [](const Event&) {}, -1);
    sender.give({jobOf(*outbox.find(id))});
    sender.finish();
    ended_ = sender.run();
    return *outbox.find(id);
  }

  static bool bears(const test::WireRequest& request, const std::string& token) {
    return request.head.find("Authorization: Bearer " + token + "\r\n") != std::string::npos;
  }

  Outcome ended_;  ///< of the last run
  std::filesystem::path folder_ =
      std::filesystem::temp_directory_path() / ("footbridge-bearer-" + std::to_string(::getpid()));
};

test::WireAnswer answer(int status, std::vector<std::string> headers = {}) {
  return {test::WireAnswer::Kind::Whole, status, std::move(headers),
          status == 200 ? test::responseBundle("transaction-response", {201}) : "", 0};
}

TEST_F(BearerTest, GoesWithEveryRequestAndIsReadAgainOnceAfter401) {
  write("abc.def-1\n");
  test::WireServer server({answer(401), answer(200)});
  const outbox::Row row = send(server);
  EXPECT_EQ(row.state, outbox::State::Delivered);
  const std::vector<test::WireRequest> requests = server.requests();
  ASSERT_EQ(requests.size(), 2U);
  EXPECT_TRUE(bears(requests[0], "abc.def-1"));
  EXPECT_TRUE(bears(requests[1], "abc.def-1"));
  EXPECT_EQ(requests[0].path, "/fhir");
}

TEST_F(BearerTest, ASecond401HoldsTheRowAndTheTokenIsInNoMessage) {
  write("secret-token");
  test::WireServer server({answer(401), answer(401)});
  const outbox::Row row = send(server);
  EXPECT_EQ(row.state, outbox::State::Held);
  EXPECT_NE(row.reason.find("credentials"), std::string::npos);
  EXPECT_EQ(row.reason.find("secret-token"), std::string::npos);
  EXPECT_EQ(server.requests().size(), 2U);
}

TEST_F(BearerTest, NeverGoesToAnotherHost) {
  write("secret-token");
  test::WireServer other({answer(200)});
  test::WireServer server(
      {answer(307, {"Location: http://127.0.0.1:" + std::to_string(other.port()) + "/"})});
  EXPECT_EQ(send(server).state, outbox::State::Held);
  EXPECT_TRUE(other.requests().empty());
}

/// What someone may leave in the file by mistake.
std::vector<std::string> brokenTokens() {
  return {"",
          " \n",
          "Bearer abc",
          "line\nline",
          "tab\tbed",
          "caf\u00e9",
          "\xEF\xBB\xBF"
          "abc",
          std::string("abc\0", 4)};
}

TEST_F(BearerTest, WithoutATokenNothingIsSentAndTheRowStaysReady) {
  for (const std::string& text : brokenTokens()) {
    write(text);
    test::WireServer server({answer(200)});
    EXPECT_EQ(send(server).state, outbox::State::Ready) << text;
    EXPECT_NE(ended_.because.find("does not hold one token"), std::string::npos) << text;
    EXPECT_EQ(ended_.left, 1U);
    EXPECT_TRUE(server.requests().empty()) << text;
  }
}

TEST_F(BearerTest, AFileThatOthersMayReadIsRefused) {
  write("abc");
  std::filesystem::permissions(folder_ / "token", std::filesystem::perms(0640));
  test::WireServer server({answer(200)});
  EXPECT_EQ(send(server).state, outbox::State::Ready);
  EXPECT_NE(ended_.because.find("others than its owner"), std::string::npos) << ended_.because;
  EXPECT_TRUE(server.requests().empty());
}

/// The file is broken while the server says that its token is good no more.
TEST_F(BearerTest, AFileThatIsEmptiedMeanwhileStopsSending) {
  write("abc");
  test::WireAnswer late = answer(401);
  late.delayMs = 500;
  test::WireServer server({late, answer(200)});
  const std::jthread person([this, &server] {
    while (server.requests().empty()) std::this_thread::sleep_for(milliseconds(5));
    write("");
  });
  EXPECT_EQ(send(server).state, outbox::State::Ready);
  EXPECT_EQ(server.requests().size(), 1U);
}

TEST_F(BearerTest, AFileMustHoldOneToken) {
  for (const std::string& text : brokenTokens()) {
    write(text);
    EXPECT_FALSE(readBearer(folder_ / "token")) << text;
  }
  write("  one-token \n");
  EXPECT_EQ(*readBearer(folder_ / "token"), "one-token");
  EXPECT_FALSE(readBearer(folder_ / "none"));
}

}  // namespace
}  // namespace footbridge::deliver
