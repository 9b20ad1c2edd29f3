#pragma once
// An outbox in a folder of its own, and what the tests put into it.

#include <gtest/gtest.h>
#include <unistd.h>

#include "core/file.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::outbox {

using std::chrono::milliseconds;

inline constexpr Time kNow{milliseconds(1'764'000'000'000)};

class OutboxTest : public ::testing::Test {
 protected:
  OutboxTest() { std::filesystem::create_directories(folder_); }
  ~OutboxTest() override { std::filesystem::remove_all(folder_); }

  Result<Outbox> tryOpen(std::uint64_t maxBytes = 0, const std::string& key = "key") {
    return Outbox::open(folder_ / "outbox.db",
                        *Sealer::fromKeyFile(folder_ / key, Sealer::Absent::Create), maxBytes);
  }

  Outbox open(std::uint64_t maxBytes = 0) { return *tryOpen(maxBytes); }

  static Entry entry(const std::string& value, std::int32_t revision = 1,
                     const std::string& patient = "nhs|9992900741") {
    return {"gp",
            "https://clinic.example/assessments",
            value,
            revision,
            patient,
            "digest of " + value + std::to_string(revision),
            "{\"family\":\"Hollins\",\"visit\":\"" + value + "\"}",
            3,
            {}};
  }

  static Added add(Outbox& outbox, const Entry& entry) {
    const Result<std::vector<Added>> added = outbox.add({&entry, 1}, kNow);
    EXPECT_TRUE(added);
    return added->at(0);
  }

  static void settle(Outbox& outbox, std::int64_t id, State state) {
    const Mark mark{id, state, Step::Send, 1, kNow, "because", "{\"status\":200}"};
    EXPECT_TRUE(outbox.settle({&mark, 1}, kNow + milliseconds(5)).empty());
  }

  std::string rawBytes() {
    std::string out;
    for (const auto& file : std::filesystem::directory_iterator(folder_)) {
      if (file.path().filename().string().starts_with("outbox")) out += *readFile(file.path());
    }
    return out;
  }

  std::filesystem::path folder_ =
      std::filesystem::temp_directory_path() / ("footbridge-outbox-" + std::to_string(::getpid()));
};

}  // namespace footbridge::outbox
