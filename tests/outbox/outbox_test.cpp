#include <sys/resource.h>

#include <csignal>
#include <fstream>

#include "outbox/outbox_fixture.hpp"
#include "outbox/sql.hpp"

namespace footbridge::outbox {
namespace {

TEST_F(OutboxTest, WhatWasAddedIsThereAfterReopening) {
  {
    Outbox outbox = open();
    EXPECT_EQ(add(outbox, entry("A-1")).how, Added::How::New);
  }
  Outbox outbox = open();
  const Result<std::vector<Row>> rows = outbox.list({});
  ASSERT_TRUE(rows);
  ASSERT_EQ(rows->size(), 1U);
  const Row& row = rows->front();
  EXPECT_EQ(row.state, State::Ready);
  EXPECT_EQ(row.system, "https://clinic.example/assessments");
  EXPECT_EQ(row.value, "A-1");
  EXPECT_EQ(row.resources, 3);
  EXPECT_EQ(row.created, kNow);
  EXPECT_EQ(*outbox.payload(row.id), entry("A-1").bundle);
}

TEST_F(OutboxTest, KeepsWhoseReadingsTheyAre) {
  Outbox outbox = open();
  Entry mine = entry("A-1");
  mine.person = {Person::Check::MayExist, "urn:nhs",    "999",
                 "urn%3Anhs%7C999",       "1958-02-17", "Hollins"};
  const Row row = *outbox.find(add(outbox, mine).id);
  EXPECT_EQ(row.person.check, Person::Check::MayExist);
  EXPECT_EQ(row.person.system, "urn:nhs");
  EXPECT_EQ(row.person.value, "999");
  EXPECT_EQ(row.person.query, "urn%3Anhs%7C999");
  EXPECT_EQ(row.person.birthDate, "1958-02-17");
  EXPECT_EQ(row.person.family, "Hollins");
  EXPECT_EQ(rawBytes().find("1958-02-17"), std::string::npos);
}

TEST_F(OutboxTest, FindsTheEarlierRevisionThatIsOrMayBeThere) {
  Outbox outbox = open();
  EXPECT_FALSE(outbox.earlier(entry("A-1", 2))->has_value());
  const std::int64_t first = add(outbox, entry("A-1", 1)).id;
  const std::int64_t third = add(outbox, entry("A-1", 3)).id;
  add(outbox, entry("B-1", 1));
  EXPECT_EQ((*outbox.earlier(entry("A-1", 4)))->id, third);
  EXPECT_EQ((*outbox.earlier(entry("A-1", 3)))->id, first);
  EXPECT_FALSE(outbox.earlier(entry("A-1", 1))->has_value());
  settle(outbox, third, State::Refused);
  EXPECT_EQ((*outbox.earlier(entry("A-1", 4)))->id, first);
}

TEST_F(OutboxTest, TheFileSaysNothingOfThePatient) {
  {
    Outbox outbox = open();
    const Added added = add(outbox, entry("A-1"));
    settle(outbox, added.id, State::Held);
  }
  const std::string bytes = rawBytes();
  ASSERT_GT(bytes.size(), 4096U);
  for (const std::string_view word :
       {"Hollins", "9992900741", "A-1", "clinic.example", "because", "digest of"}) {
    EXPECT_EQ(bytes.find(word), std::string::npos) << word;
  }
}

TEST_F(OutboxTest, TheSameVersionIsTakenOnceAndOtherBytesNeverOverwriteIt) {
  Outbox outbox = open();
  const Added first = add(outbox, entry("A-1"));
  settle(outbox, first.id, State::Delivered);
  const Added again = add(outbox, entry("A-1"));
  EXPECT_EQ(again.how, Added::How::Present);
  EXPECT_EQ(again.id, first.id);
  EXPECT_EQ(again.state, State::Delivered);
  EXPECT_EQ(again.since, kNow + milliseconds(5));
  Entry other = entry("A-1");
  other.sourceDigest = "another";
  other.bundle = "{}";
  EXPECT_EQ(add(outbox, other).how, Added::How::Differs);
  EXPECT_EQ(*outbox.payload(first.id), entry("A-1").bundle);
  Entry elsewhere = entry("A-1");
  elsewhere.destination = "archive";
  EXPECT_EQ(add(outbox, elsewhere).how, Added::How::New);
  EXPECT_EQ(outbox.list({})->size(), 2U);
}

TEST_F(OutboxTest, OrderIsByPatientAndDestination) {
  Outbox outbox = open();
  add(outbox, entry("A-1"));
  add(outbox, entry("A-2"));
  add(outbox, entry("A-3", 1, "nhs|other"));
  const std::vector<Row> rows = *outbox.list({"gp", State::Ready, 0, 0});
  ASSERT_EQ(rows.size(), 3U);
  EXPECT_EQ(rows[0].lane, rows[1].lane);
  EXPECT_NE(rows[0].lane, rows[2].lane);
  EXPECT_NE(rows[0].visit, rows[1].visit);
}

TEST_F(OutboxTest, AnOlderRevisionThatComesAfterANewerWasDeliveredIsHeld) {
  Outbox outbox = open();
  const Added second = add(outbox, entry("A-1", 2));
  settle(outbox, second.id, State::Delivered);
  const Added first = add(outbox, entry("A-1", 1));
  EXPECT_EQ(first.how, Added::How::Held);
  const Row row = *outbox.find(first.id);
  EXPECT_EQ(row.state, State::Held);
  EXPECT_NE(row.reason.find("higher revision"), std::string::npos);
  EXPECT_FALSE(outbox.release(first.id, kNow).empty()) << "it would undo the correction";
  EXPECT_EQ(add(outbox, entry("A-1", 3)).how, Added::How::New);
}

TEST_F(OutboxTest, MarksAreKept) {
  Outbox outbox = open();
  const Added added = add(outbox, entry("A-1"));
  const Mark mark{added.id, State::Ready, Step::Confirm, 4, kNow + milliseconds(9), "why", "{}"};
  ASSERT_TRUE(outbox.settle({&mark, 1}, kNow).empty());
  const Row row = *outbox.find(added.id);
  EXPECT_EQ(row.step, Step::Confirm);
  EXPECT_EQ(row.attempts, 4);
  EXPECT_EQ(row.due, kNow + milliseconds(9));
  EXPECT_EQ(row.reason, "why");
  EXPECT_EQ(row.receipt, "{}");
}

TEST_F(OutboxTest, FiltersByStateDestinationAndPlace) {
  Outbox outbox = open();
  const Added first = add(outbox, entry("A-1"));
  add(outbox, entry("A-2"));
  settle(outbox, first.id, State::Refused);
  EXPECT_EQ(outbox.list({"gp", State::Refused, 0, 0})->size(), 1U);
  EXPECT_EQ(outbox.list({"gp", State::Ready, first.id, 0})->size(), 1U);
  EXPECT_EQ(outbox.list({"other", std::nullopt, 0, 0})->size(), 0U);
  EXPECT_EQ(outbox.list({"", std::nullopt, 0, 1})->size(), 1U);
}

TEST_F(OutboxTest, ErasesPayloadsOfWhatWasDeliveredAndStillKnowsIt) {
  Outbox outbox = open();
  const std::int64_t delivered = add(outbox, entry("A-1")).id;
  const std::int64_t ready = add(outbox, entry("A-2")).id;
  settle(outbox, delivered, State::Delivered);
  EXPECT_EQ(*outbox.erasePayloads(kNow), 0);
  EXPECT_EQ(*outbox.erasePayloads(kNow + milliseconds(6)), 1);
  EXPECT_FALSE(outbox.payload(delivered));
  EXPECT_FALSE(outbox.find(delivered)->payloadKept);
  EXPECT_TRUE(outbox.payload(ready));
  EXPECT_EQ(add(outbox, entry("A-1")).how, Added::How::Present);
}

TEST_F(OutboxTest, WhatIsSealedBeforeIsStoredAsIfItWereNot) {
  Outbox outbox = open();
  EntrySealer sealer(outbox);
  Entry before = entry("A-1");
  sealer.seal(before);
  const Added added = add(outbox, before);
  EXPECT_EQ(added.how, Added::How::New);
  EXPECT_EQ(*outbox.payload(added.id), before.bundle);
  EXPECT_EQ(outbox.find(added.id)->value, "A-1");
  EXPECT_EQ(add(outbox, entry("A-1")).how, Added::How::Present);
  const Added other = add(outbox, entry("A-2"));
  sealer.seal(before = entry("A-2"));
  EXPECT_EQ(add(outbox, before).id, other.id);
}

TEST_F(OutboxTest, ErasesInPortions) {
  Outbox outbox = open();
  for (int i = 0; i < 5; ++i) {
    settle(outbox, add(outbox, entry("A-" + std::to_string(i))).id, State::Delivered);
  }
  const std::vector<Message> messages{
      {"clinic", "1", "a"}, {"clinic", "2", "b"}, {"clinic", "3", "c"}};
  ASSERT_TRUE(outbox.add({}, messages, kNow));
  const Time later = kNow + milliseconds(6);
  EXPECT_EQ(*outbox.erasePayloads(later, 2), 2);
  EXPECT_EQ(*outbox.erasePayloads(later, 2), 2);
  EXPECT_EQ(*outbox.erasePayloads(later, 2), 1);
  EXPECT_EQ(*outbox.forgetMessages(kNow, 2), 0);
  EXPECT_EQ(*outbox.heard(messages.front()), Heard::Same);
  EXPECT_EQ(*outbox.forgetMessages(later, 2), 2);
  EXPECT_EQ(*outbox.forgetMessages(later, 2), 1);
  EXPECT_EQ(*outbox.heard(messages.front()), Heard::Never);
}

TEST_F(OutboxTest, RefusesAnotherKeyAnotherFileAndANewerFormat) {
  open();
  const Result<Outbox> otherKey = tryOpen(0, "other-key");
  ASSERT_FALSE(otherKey);
  EXPECT_NE(otherKey.issues()[0].text.find("another key"), std::string::npos);
  std::filesystem::remove_all(folder_ / "outbox.db");
  ASSERT_TRUE(writeFileAtomically(folder_ / "outbox.db", std::string(8192, 'x')).empty());
  const Result<Outbox> other = tryOpen();
  ASSERT_FALSE(other);
  EXPECT_NE(other.issues()[0].text.find("no outbox"), std::string::npos) << other.issues()[0].text;
}

/// Turns the file back into one of format 4, where `key` was unique and what is ready had an index
/// of its own.
void writeFormat4(const std::filesystem::path& file) {
  Result<Database> database = Database::open(file);
  ASSERT_TRUE(database);
  const Issues issues = database->run(R"(BEGIN;
    DROP INDEX delivery_visit; DROP INDEX delivery_open; DROP INDEX delivery_kept;
    ALTER TABLE delivery RENAME TO newer;
    CREATE TABLE delivery (
      id INTEGER PRIMARY KEY AUTOINCREMENT, key BLOB NOT NULL UNIQUE, destination TEXT NOT NULL,
      visit BLOB NOT NULL, revision INTEGER NOT NULL, lane BLOB NOT NULL, digest BLOB NOT NULL,
      resources INTEGER NOT NULL, state TEXT NOT NULL, step TEXT NOT NULL DEFAULT 'send',
      dropped INTEGER NOT NULL DEFAULT 0, attempts INTEGER NOT NULL DEFAULT 0,
      strikes INTEGER NOT NULL DEFAULT 0, due INTEGER NOT NULL, created INTEGER NOT NULL,
      changed INTEGER NOT NULL, label BLOB NOT NULL, reason BLOB, receipt BLOB, body BLOB,
      released INTEGER NOT NULL DEFAULT 0) STRICT;
    INSERT INTO delivery SELECT id, key, destination, visit, revision, lane, digest, resources,
      state, step, dropped, attempts, strikes, due, created, changed, label, reason, receipt, body,
      released FROM newer;
    DROP TABLE newer;
    CREATE INDEX delivery_ready ON delivery (destination, id) WHERE state = 'ready';
    CREATE INDEX delivery_visit ON delivery (visit, revision);
    CREATE INDEX delivery_kept ON delivery (changed)
      WHERE state = 'delivered' AND body IS NOT NULL;
    CREATE INDEX delivery_backlog ON delivery (destination, state, created)
      WHERE state <> 'delivered' AND dropped = 0;
    PRAGMA user_version=4; COMMIT;)");
  EXPECT_TRUE(issues.empty());
}

TEST_F(OutboxTest, TakesOverWhatAnEarlierFormatHolds) {
  std::vector<Row> before;
  {
    Outbox outbox = open();
    for (const char* visit : {"A-1", "A-2", "A-3", "A-4"}) add(outbox, entry(visit, 1, visit));
    settle(outbox, 1, State::Delivered);
    settle(outbox, 2, State::Held);
    EXPECT_TRUE(outbox.drop(3, "typed twice", kNow).empty());
    before = *outbox.list({});
  }
  writeFormat4(folder_ / "outbox.db");
  Outbox outbox = open();
  const Result<std::vector<Row>> after = outbox.list({});
  ASSERT_TRUE(after);
  ASSERT_EQ(after->size(), before.size());
  for (std::size_t i = 0; i < before.size(); ++i) {
    EXPECT_EQ((*after)[i].id, before[i].id);
    EXPECT_EQ((*after)[i].value, before[i].value);
    EXPECT_EQ((*after)[i].state, before[i].state);
    EXPECT_EQ((*after)[i].dropped, before[i].dropped);
    EXPECT_EQ((*after)[i].reason, before[i].reason);
    EXPECT_EQ((*after)[i].receipt, before[i].receipt);
    EXPECT_EQ((*after)[i].changed, before[i].changed);
  }
  EXPECT_EQ(*outbox.payload(4), entry("A-4").bundle);
  EXPECT_EQ(outbox.list({.destination = "gp", .state = State::Ready})->size(), 1U);
  EXPECT_EQ(add(outbox, entry("A-1", 1, "A-1")).how, Added::How::Present);
  EXPECT_EQ(add(outbox, entry("A-5", 1, "A-5")).id, 5);
}

TEST_F(OutboxTest, ADamagedPayloadIsNoticed) {
  std::int64_t id = 0;
  {
    Outbox outbox = open();
    Entry large = entry("A-1");
    std::string noise;
    for (int i = 0; noise.size() < 600'000; ++i) noise += std::to_string(i * 7919 % 10'007);
    large.bundle = noise;
    id = add(outbox, large).id;
  }
  // The middle of the file belongs to the one large payload.
  std::fstream file(folder_ / "outbox.db", std::ios::in | std::ios::out | std::ios::binary);
  const auto size = static_cast<std::streamoff>(std::filesystem::file_size(folder_ / "outbox.db"));
  file.seekp(size / 2);
  file.put('!');
  file.put('?');
  file.close();
  Outbox outbox = open();
  const Result<std::string> payload = outbox.payload(id);
  ASSERT_FALSE(payload);
  EXPECT_NE(payload.issues()[0].text.find("damaged"), std::string::npos);
}

// Nothing is acknowledged that is not durable; with room again, work goes on without repair.
TEST_F(OutboxTest, AFullStoreStoresNothingOfTheTransactionAndRecovers) {
  Entry large = entry("A-1");
  large.bundle.clear();
  for (int i = 0; large.bundle.size() < 900'000; ++i) {
    large.bundle += std::to_string(static_cast<std::int64_t>(i) * 2'654'435'761 % 4'294'967'291);
  }
  {
    Outbox outbox = open(1U << 18U);
    const std::vector<Entry> both{entry("A-0"), large};
    const Result<std::vector<Added>> added = outbox.add(both, kNow);
    ASSERT_FALSE(added);
    EXPECT_EQ(added.issues()[0].type, IssueType::NoStore);
    EXPECT_NE(added.issues()[0].text.find("no room"), std::string::npos);
    EXPECT_EQ(outbox.list({})->size(), 0U);
    EXPECT_EQ(add(outbox, entry("A-2")).how, Added::How::New);
  }
  Outbox outbox = open();
  EXPECT_EQ(add(outbox, large).how, Added::How::New);
  EXPECT_EQ(outbox.list({})->size(), 2U);
}

/// Texts that no compression makes much shorter.
std::string noise(std::size_t bytes, std::uint64_t seed) {
  std::string out;
  for (std::uint64_t i = seed * 1'000'003; out.size() < bytes; ++i) {
    out += static_cast<char>('0' + (i * 6'364'136'223'846'793'005U >> 40U) % 64);
  }
  return out;
}

// Were receipts refused as well, what was taken in could never be told to have arrived.
TEST_F(OutboxTest, AFullStoreStillTakesWhatIsToldOfItsRows) {
  Outbox outbox = open(1U << 19U);
  EXPECT_FALSE(outbox.full());
  std::vector<std::int64_t> rows;
  for (int i = 0;; ++i) {
    ASSERT_LT(i, 1000);
    Entry next = entry("A-" + std::to_string(i));
    next.bundle = noise(2'000, static_cast<std::uint64_t>(i));
    const Result<std::vector<Added>> added = outbox.add({&next, 1}, kNow);
    if (!added) break;
    rows.push_back(added->at(0).id);
  }
  EXPECT_GT(rows.size(), 50U);
  EXPECT_TRUE(outbox.full());
  for (const std::int64_t id : rows) {
    const std::string receipt = noise(1'500, static_cast<std::uint64_t>(id));
    const Mark mark{id, State::Delivered, Step::Send, 1, kNow, "", receipt};
    ASSERT_TRUE(outbox.settle({&mark, 1}, kNow).empty());
  }
  Filter delivered;
  delivered.state = State::Delivered;
  EXPECT_EQ(outbox.list(delivered)->size(), rows.size());
  EXPECT_TRUE(outbox.full());
}

TEST_F(OutboxTest, ADiskErrorStoresNothingOfTheTransactionAndRecovers) {
  Outbox outbox = open();
  add(outbox, entry("A-0"));
  Entry large = entry("A-1");
  for (int i = 0; large.bundle.size() < 900'000; ++i) large.bundle += std::to_string(i * 31);
  std::signal(SIGXFSZ, SIG_IGN);
  rlimit before = {};
  ASSERT_EQ(::getrlimit(RLIMIT_FSIZE, &before), 0);
  rlimit tight = before;
  tight.rlim_cur = 100'000;
  ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &tight), 0);
  const Result<std::vector<Added>> added = outbox.add({&large, 1}, kNow);
  ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &before), 0);
  ASSERT_FALSE(added);
  EXPECT_EQ(added.issues()[0].type, IssueType::NoStore);
  EXPECT_FALSE(added.issues()[0].mend.empty());
  EXPECT_EQ(outbox.list({})->size(), 1U);
  EXPECT_EQ(add(outbox, large).how, Added::How::New);
}

TEST_F(OutboxTest, ASecondOpenerIsTold) {
  const Outbox first = open();
  const Result<Outbox> second = tryOpen();
  ASSERT_FALSE(second);
  EXPECT_NE(second.issues()[0].text.find("another process"), std::string::npos);
}

TEST_F(OutboxTest, AMissingFolderIsTold) {
  const Result<Outbox> outbox =
      Outbox::open(folder_ / "none" / "outbox.db",
                   *Sealer::fromKeyFile(folder_ / "key", Sealer::Absent::Create), 0);
  ASSERT_FALSE(outbox);
  EXPECT_NE(outbox.issues()[0].text.find("cannot be opened"), std::string::npos);
}

}  // namespace
}  // namespace footbridge::outbox
