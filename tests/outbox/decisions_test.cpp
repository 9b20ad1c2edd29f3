// What a person decides about rows, while others store and send.

#include <thread>

#include "outbox/outbox_fixture.hpp"

namespace footbridge::outbox {
namespace {

TEST_F(OutboxTest, DecisionsFitTheState) {
  Outbox outbox = open();
  const std::int64_t id = add(outbox, entry("A-1")).id;
  EXPECT_FALSE(outbox.release(id, kNow).empty());
  settle(outbox, id, State::Held);
  EXPECT_FALSE(outbox.retry(id, kNow).empty());
  EXPECT_TRUE(outbox.release(id, kNow).empty());
  EXPECT_EQ(outbox.find(id)->state, State::Ready);
  EXPECT_EQ(outbox.find(id)->attempts, 0);
  settle(outbox, id, State::Refused);
  EXPECT_TRUE(outbox.retry(id, kNow).empty());
  EXPECT_TRUE(outbox.drop(id, "typed twice", kNow).empty());
  EXPECT_EQ(outbox.find(id)->state, State::Refused);
  EXPECT_TRUE(outbox.find(id)->dropped);
  EXPECT_NE(outbox.find(id)->reason.find("typed twice"), std::string::npos);
  EXPECT_FALSE(outbox.payload(id));
  EXPECT_FALSE(outbox.retry(id, kNow).empty());
  EXPECT_FALSE(outbox.drop(id, "again", kNow).empty());
  EXPECT_FALSE(outbox.find(id + 1));
}

/// Its first try may still be under way: what that one comes to is not said of the other.
TEST_F(OutboxTest, WhatWasDroppedAndComesAgainIsAnotherRow) {
  Outbox outbox = open();
  const std::int64_t before = add(outbox, entry("A-1")).id;
  ASSERT_TRUE(outbox.drop(before, "wrong arm", kNow).empty());
  const Added again = add(outbox, entry("A-1"));
  EXPECT_EQ(again.how, Added::How::New) << "that it is sent again is a decision, too";
  EXPECT_GT(again.id, before);
  settle(outbox, before, State::Delivered);
  EXPECT_FALSE(outbox.find(before));
  EXPECT_EQ(outbox.list({})->size(), 1U);
  EXPECT_EQ(outbox.find(again.id)->state, State::Ready);
  EXPECT_FALSE(outbox.find(again.id)->dropped);
  settle(outbox, again.id, State::Delivered);
  EXPECT_FALSE(outbox.retry(again.id, kNow).empty());
  EXPECT_FALSE(outbox.drop(again.id, "x", kNow).empty());
  EXPECT_EQ(outbox.find(again.id)->state, State::Delivered);
}

TEST_F(OutboxTest, WhatIsToBeHeldIsNeverReady) {
  Outbox outbox = open();
  Entry doubtful = entry("A-1");
  doubtful.hold = "Look at it first.";
  const std::vector<Entry> both{doubtful, entry("A-2")};
  const std::vector<Added> added = *outbox.add(both, kNow);
  EXPECT_EQ(added[0].how, Added::How::Held);
  EXPECT_EQ(added[0].state, State::Held);
  EXPECT_EQ(added[0].reason, doubtful.hold);
  EXPECT_EQ(added[1].how, Added::How::New);
  EXPECT_EQ(outbox.find(added[0].id)->state, State::Held);
  EXPECT_EQ(outbox.find(added[0].id)->reason, doubtful.hold);
  EXPECT_EQ(outbox.list({.destination = "gp", .state = State::Ready})->size(), 1U);
  EXPECT_EQ(add(outbox, doubtful).how, Added::How::Present);
  EXPECT_TRUE(outbox.release(added[0].id, kNow).empty());
  EXPECT_EQ(outbox.find(added[0].id)->state, State::Ready);
}

TEST_F(OutboxTest, AnotherPatientsRevisionIsHeldWithThatReason) {
  Outbox outbox = open();
  add(outbox, entry("A-1"));
  const Added other = add(outbox, entry("A-1", 2, "nhs|other"));
  EXPECT_EQ(other.how, Added::How::Held);
  EXPECT_EQ(other.reason, kMoved);
  EXPECT_EQ(outbox.find(other.id)->reason, kMoved);
  EXPECT_FALSE(outbox.release(other.id, kNow).empty());
}

/// Each of them seals: with one means of sealing for two of them, damaged payloads came of this, or
/// the end of the program.
TEST_F(OutboxTest, SeveralThreadsMayAddAndDecide) {
  constexpr int kRows = 60;
  Outbox outbox = open();
  for (int i = 0; i < kRows; ++i) add(outbox, entry("D-" + std::to_string(i)));
  const auto adding = [&](const std::string& name) {
    for (int i = 0; i < kRows; ++i) add(outbox, entry(name + std::to_string(i), 1, name));
  };
  {
    const std::jthread one([&] { adding("one"); });
    const std::jthread other([&] { adding("other"); });
    const std::jthread dropping([&] {
      for (int id = 1; id <= kRows; ++id) {
        EXPECT_TRUE(outbox.drop(id, std::string(4'000, 'x'), kNow).empty());
      }
    });
  }
  const std::vector<Row> rows = *outbox.list({});
  ASSERT_EQ(rows.size(), 3U * kRows);
  for (const Row& row : rows) {
    const bool whole = row.dropped ? row.reason == "Dropped by a person: " + std::string(4'000, 'x')
                                   : *outbox.payload(row.id) == entry(row.value).bundle;
    EXPECT_TRUE(whole) << row.value;
  }
}

/// A sender ends its try while a person decides: the row is what one of them made of it, never a
/// delivered one that is sent again or erased.
TEST_F(OutboxTest, ADecisionNeverUndoesWhatWasDeliveredMeanwhile) {
  constexpr int kRows = 200;
  Outbox outbox = open();
  for (int i = 0; i < kRows; ++i) add(outbox, entry("A-" + std::to_string(i)));
  {
    const std::jthread sending([&] {
      for (int id = 1; id <= kRows; ++id) settle(outbox, id, State::Delivered);
    });
    const std::jthread deciding([&] {
      for (int id = 1; id <= kRows; ++id) outbox.retry(id, kNow);
      for (int id = 1; id <= kRows; ++id) outbox.drop(id, "late", kNow);
    });
  }
  const Result<std::vector<Row>> rows = outbox.list({});
  for (const Row& row : *rows) EXPECT_EQ(row.state == State::Delivered, !row.dropped);
}

}  // namespace
}  // namespace footbridge::outbox
