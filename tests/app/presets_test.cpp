// Each row of mapping/presets.json is a configuration, and asks for what a statement can say.

#include <gtest/gtest.h>

#include "config/config.hpp"
#include "deliver/strategy.hpp"
#include "tables/tables.hpp"

namespace footbridge {
namespace {

const Tables& tables() {
  static const Result<Tables> kTables = embeddedTables();
  return *kTables;
}

bool known(const std::string& need) {
  for (std::uint8_t i = 0; i <= static_cast<std::uint8_t>(deliver::Need::SearchByIdentifier); ++i) {
    if (deliver::word(static_cast<deliver::Need>(i)) == need) return true;
  }
  return false;
}

TEST(Presets, EachIsAConfiguration) {
  EXPECT_GE(tables().presets.size(), 10U);
  for (const PresetRow& row : tables().presets) {
    const config::Presets presets{{row.id, row.settings}};
    const Result<config::Config> config = config::parse(
        "[destinations.gp]\nkind = \"server\"\nbase = \"https://a.example\"\npreset = \"" + row.id +
            "\"\n",
        "/", presets);
    ASSERT_TRUE(config) << row.id << ": " << config.issues().front().text;
    EXPECT_EQ(config->find("gp")->preset, row.id);
  }
}

TEST(Presets, EachAsksForWhatAStatementCanSay) {
  for (const PresetRow& row : tables().presets) {
    for (const std::string& need : row.needs) EXPECT_TRUE(known(need)) << row.id << ": " << need;
    for (const std::string& lack : row.lacks) EXPECT_TRUE(known(lack)) << row.id << ": " << lack;
    EXPECT_EQ(row.id.find_first_not_of("abcdefghijklmnopqrstuvwxyz-"), std::string::npos) << row.id;
    EXPECT_TRUE(row.about.ends_with('.')) << row.id;
  }
}

TEST(Presets, EachThatAStatementTellsNeedsWhatItsStrategyNeeds) {
  for (const PresetRow& row : tables().presets) {
    if (row.needs.empty()) continue;
    for (const deliver::StrategyRow& strategy : deliver::strategyTable()) {
      if (strategy.word != row.settings.text("strategy")) continue;
      for (const deliver::Need need : strategy.needs) {
        EXPECT_NE(std::find(row.needs.begin(), row.needs.end(), deliver::word(need)),
                  row.needs.end())
            << row.id << ": " << deliver::word(need);
      }
    }
  }
}

}  // namespace
}  // namespace footbridge
