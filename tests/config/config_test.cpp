#include "config/config.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <fstream>

namespace footbridge::config {
namespace {

Issues issuesOf(std::string_view text) {
  const Result<Config> config = parse(text, "/etc/footbridge");
  return config ? Issues{} : config.issues();
}

bool mentions(const Issues& issues, std::string_view place, std::string_view words) {
  return std::any_of(issues.begin(), issues.end(), [&](const Issue& issue) {
    return issue.place == place && (issue.text + issue.mend).find(words) != std::string::npos;
  });
}

Presets onePreset() {
  Presets out;
  out.emplace("slow", *json::read(R"({"strategy":"single","connections":2,"gzip":"always"})"));
  return out;
}

TEST(Config, APresetFillsInWhatTheDestinationDoesNotSay) {
  const Result<Config> config = parse(
      "[destinations.gp]\nkind = \"server\"\nbase = \"https://a.example\"\npreset = \"slow\"\n"
      "connections = 5\n[destinations.other]\nkind = \"server\"\nbase = \"https://b.example\"\n",
      "/etc/footbridge", onePreset());
  ASSERT_TRUE(config);
  const Destination& gp = *config->find("gp");
  EXPECT_EQ(gp.preset, "slow");
  EXPECT_EQ(gp.server.strategy, Strategy::Single);
  EXPECT_EQ(gp.server.gzip, Gzip::Always);
  EXPECT_EQ(gp.server.connections, 5) << "the configuration wins";
  EXPECT_EQ(config->find("other")->server.strategy, Strategy::Auto) << "nobody else is filled in";
}

TEST(Config, APresetThatThereIsNotIsRefusedWithTheNearest) {
  const std::string text =
      "[destinations.gp]\nkind = \"server\"\nbase = \"https://a.example\"\npreset = \"slwo\"\n"
      "strategi = \"auto\"\n";
  const Result<Config> config = parse(text, "/etc/footbridge", onePreset());
  ASSERT_FALSE(config);
  EXPECT_TRUE(mentions(config.issues(), "/destinations/gp/preset", "Did you mean slow?"));
  EXPECT_TRUE(mentions(config.issues(), "/destinations/gp/strategi", "Did you mean strategy"));
  EXPECT_TRUE(mentions(issuesOf(text), "/destinations/gp/preset", "There is no preset"));
}

TEST(Config, APresetIsForServers) {
  const Result<Config> config = parse(
      "[destinations.a]\nkind = \"folder\"\npath = \"/x\"\npreset = \"slow\"\n", "/", onePreset());
  ASSERT_FALSE(config);
  EXPECT_TRUE(mentions(config.issues(), "/destinations/a/preset", "Presets are for servers"));
  EXPECT_EQ(config.issues().size(), 1U) << "keys that nobody wrote are not complained of";
}

TEST(Config, ASearchForThePatientIsForServersThatAreCompared) {
  const std::string server = "[destinations.gp]\nkind = \"server\"\nbase = \"https://a.example\"\n";
  const Result<Config> config = parse(server + "patient = \"search\"\n", "/etc/footbridge");
  ASSERT_TRUE(config);
  EXPECT_EQ(config->find("gp")->patient, "conditional");
  EXPECT_EQ(config->find("gp")->server.patientBy, PatientBy::Found);
  EXPECT_TRUE(mentions(issuesOf(server + "patient = \"search\"\nidentity = \"trust\"\n"),
                       "/destinations/gp/identity", "compares the patient"));
  EXPECT_TRUE(mentions(
      issuesOf("[destinations.a]\nkind = \"folder\"\npath = \"/x\"\npatient = \"search\"\n"),
      "/destinations/a/patient", "Only a server"));
}

TEST(Config, WithoutAFileAFolderUnderTheDataFolderIsTheDestination) {
  const Config config = defaults();
  ASSERT_NE(config.find("folder"), nullptr);
  EXPECT_EQ(config.find("folder")->folder.path, "footbridge-data/delivered");
  EXPECT_EQ(config.data, "footbridge-data");
  EXPECT_EQ(config.find("gp"), nullptr);
}

TEST(Config, ReadsEveryKey) {
  const Result<Config> config = parse(R"(
data = "store"
[outbox]
key_file = "/keys/outbox"
keep_days = 7
max_megabytes = 2
[destinations.gp]
kind = "server"
base = "https://records.example/fhir/"
strategy = "transaction"
connections = 3
connect_milliseconds = 100
timeout_milliseconds = 2000
backoff_milliseconds = [10, 20]
patient = "create"
gzip = "when-offered"
identity = "trust"
[destinations.gp.auth]
client = "clinic-17"
keys = "/keys"
token_url = "https://records.example/token"
audience = "https://records.example/oauth"
[destinations.files]
kind = "folder"
path = "out"
ndjson = true
)",
                                      "/etc/footbridge");
  ASSERT_TRUE(config) << config.issues().front().text;
  EXPECT_EQ(config->data, "/etc/footbridge/store");
  EXPECT_EQ(config->keyFile, "/keys/outbox");
  EXPECT_EQ(config->keepDelivered, std::chrono::hours(168));
  EXPECT_EQ(config->maxBytes, 2U << 20U);
  ASSERT_EQ(config->destinations.size(), 2U);
  const Destination& gp = *config->find("gp");
  EXPECT_EQ(gp.server.base, "https://records.example/fhir");
  EXPECT_EQ(gp.server.strategy, Strategy::Transaction);
  EXPECT_EQ(gp.server.connections, 3);
  EXPECT_EQ(gp.server.backOff.size(), 2U);
  EXPECT_EQ(gp.patient, "create");
  EXPECT_EQ(gp.server.gzip, Gzip::WhenOffered);
  EXPECT_EQ(gp.server.identity, Identity::Trust);
  EXPECT_EQ(gp.server.auth.tokenUrl, "https://records.example/token");
  EXPECT_EQ(gp.server.auth.audience, "https://records.example/oauth");
  EXPECT_EQ(config->find("files")->folder.path, "/etc/footbridge/out");
  EXPECT_TRUE(config->find("files")->folder.ndjson);
}

TEST(Config, TellsAllProblemsAtOnce) {
  const Issues issues = issuesOf(R"(
dta = "x"
[outbox]
keep_days = "thirty"
[destinations.GP]
kind = "server"
base = 3
conections = 9
[destinations.files]
kind = "foldr"
[destinations.mtls]
kind = "server"
base = "https://a.example"
certificate_file = "nowhere.pem"
)");
  EXPECT_TRUE(mentions(issues, "/dta", "Did you mean data?"));
  EXPECT_TRUE(mentions(issues, "/outbox/keep_days", "whole number"));
  EXPECT_TRUE(mentions(issues, "/destinations/GP", "made of a-z"));
  EXPECT_TRUE(mentions(issues, "/destinations/GP/base", "text in quotes"));
  EXPECT_TRUE(mentions(issues, "/destinations/GP/conections", "Did you mean connections?"));
  EXPECT_TRUE(mentions(issues, "/destinations/files/kind", "folder, server"));
  EXPECT_TRUE(mentions(issues, "/destinations/mtls/certificate_file", "no file"));
  EXPECT_TRUE(mentions(issues, "/destinations/mtls", "belong together"));
  EXPECT_EQ(issues.size(), 8U);
}

TEST(Config, TakesEveryStrategyAndNamesTheNearest) {
  const std::string server = "[destinations.a]\nkind = 'server'\nbase = 'https://a.example'\n";
  const std::array<std::pair<std::string, Strategy>, 7> all{
      {{"auto", Strategy::Auto},
       {"transaction", Strategy::Transaction},
       {"batch", Strategy::Batch},
       {"single", Strategy::Single},
       {"search", Strategy::Search},
       {"client-ids", Strategy::ClientIds},
       {"conditional-update", Strategy::ConditionalUpdate}}};
  for (const auto& [word, strategy] : all) {
    const Result<Config> config = parse(server + "strategy = '" + word + "'", "/");
    ASSERT_TRUE(config) << word;
    EXPECT_EQ(config->find("a")->server.strategy, strategy);
  }
  EXPECT_TRUE(mentions(issuesOf(server + "strategy = 'client-id'"), "/destinations/a/strategy",
                       "Did you mean client-ids?"));
}

TEST(Config, NeedsWhatTheKindNeeds) {
  EXPECT_TRUE(mentions(issuesOf("[destinations.a]\nbase = 'https://a.example'"), "/destinations/a",
                       "needs a kind"));
  EXPECT_TRUE(
      mentions(issuesOf("[destinations.a]\nkind = 'server'"), "/destinations/a", "needs base"));
  EXPECT_TRUE(
      mentions(issuesOf("[destinations.a]\nkind = 'folder'"), "/destinations/a", "needs path"));
  EXPECT_TRUE(mentions(issuesOf("[destinations.a]\nkind = 'server'\nbase = 'https://a.example'\n"
                                "certificate_file = '/etc/hostname'"),
                       "/destinations/a", "belong together"));
}

TEST(Config, AnAddressHasNoQueryAndNoFragment) {
  for (const std::string base : {"https://a.example/fhir?tenant=1", "https://a.example/fhir#x"}) {
    EXPECT_TRUE(mentions(issuesOf("[destinations.a]\nkind = 'server'\nbase = '" + base + "'"),
                         "/destinations/a/base", "a query or a fragment"))
        << base;
  }
}

TEST(Config, AFolderIsNoFile) {
  const std::string server = "[destinations.a]\nkind = 'server'\nbase = 'https://a.example'\n";
  EXPECT_TRUE(mentions(issuesOf(server + "ca_file = '/tmp'"), "/destinations/a/ca_file",
                       "/tmp is a folder, not a file"));
  EXPECT_TRUE(mentions(issuesOf(server + "ca_file = '/tmp/there-is-none'"),
                       "/destinations/a/ca_file", "There is no file"));
}

/// A folder with a file of that mode in it, which goes again.
class SecretFile {
 public:
  explicit SecretFile(unsigned mode) {
    std::filesystem::create_directories(path_.parent_path());
    std::ofstream(path_) << "secret";
    std::filesystem::permissions(path_, static_cast<std::filesystem::perms>(mode));
  }
  ~SecretFile() { std::filesystem::remove_all(path_.parent_path()); }
  SecretFile(const SecretFile&) = delete;
  SecretFile& operator=(const SecretFile&) = delete;
  std::string path() const { return path_.string(); }

 private:
  std::filesystem::path path_ = std::filesystem::temp_directory_path() /
                                ("footbridge-secret-" + std::to_string(::getpid())) / "file";
};

TEST(Config, ASecretThatOthersMayReadIsRefusedWhereverItStands) {
  const std::string server = "[destinations.a]\nkind = 'server'\nbase = 'https://a.example'\n";
  const std::array<std::array<std::string, 3>, 4> cases{
      {{server + "bearer_file", "", "/destinations/a/bearer_file"},
       {server + "certificate_key_file", "", "/destinations/a/certificate_key_file"},
       {server + "[destinations.a.auth]\nclient = 'c'\nsecret_file", "",
        "/destinations/a/auth/secret_file"},
       {"[serve]\ncertificate_key_file", "", "/serve/certificate_key_file"}}};
  for (const auto& [key, more, place] : cases) {
    {
      const SecretFile open(0640);
      EXPECT_TRUE(mentions(issuesOf(key + " = '" + open.path() + "'" + more), place, "chmod 600"))
          << key;
    }
    const SecretFile shut(0600);
    EXPECT_FALSE(mentions(issuesOf(key + " = '" + shut.path() + "'" + more), place, "chmod 600"))
        << key;
  }
}

TEST(Config, NoWatchedFolderIsWrittenToByOurselvesOrWatchedTwice) {
  const std::string a = "[serve.folders.a]\npath = 'in'\n";
  const std::string b = "[serve.folders.b]\n";
  EXPECT_TRUE(mentions(issuesOf(a + b + "path = './x/../in/'"), "/serve/folders/a",
                       "serve.folders.a watches what is also serve.folders.b, /etc/footbridge/in"));
  EXPECT_TRUE(mentions(issuesOf(a + b + "path = 'in/done'"), "/serve/folders/b",
                       "serve.folders.b watches what is also done of serve.folders.a"));
  EXPECT_TRUE(mentions(issuesOf(a + b + "path = 'other'\nset_aside = 'in'"), "/serve/folders/a",
                       "set_aside of serve.folders.b"));
  EXPECT_TRUE(mentions(issuesOf("[destinations.x]\nkind = 'folder'\npath = 'in'\n" + a),
                       "/serve/folders/a", "destinations.x"));
  EXPECT_TRUE(mentions(issuesOf("[serve.folders.a]\npath = 'footbridge-data/delivered'\n"),
                       "/serve/folders/a", "destinations.folder"));
  EXPECT_EQ(issuesOf(a + b + "path = 'in'").size(), 1U) << "a pair is told once";
  EXPECT_TRUE(issuesOf(a + b + "path = 'other'\ndone = 'taken'\n").empty());
}

TEST(Config, ALinkHidesNoOverlap) {
  const SecretFile file(0600);
  const std::filesystem::path folder = std::filesystem::path(file.path()).parent_path();
  std::filesystem::create_directory(folder / "in");
  std::filesystem::create_directory_symlink(folder / "in", folder / "link");
  const std::string a = "[serve.folders.a]\npath = '" + (folder / "in").string() + "'\n";
  const std::string b = "[serve.folders.b]\npath = '" + (folder / "link").string() + "'\n";
  EXPECT_TRUE(mentions(issuesOf(a + b), "/serve/folders/a", "serve.folders.b"));
}

TEST(Config, TheTrailIsKeptForEverUnlessToldOtherwise) {
  EXPECT_EQ(defaults().serve.trail.keep.count(), 0);
  const Result<Config> config = parse(
      "[serve.trail]\nmax_megabytes = 2\nmonthly = false\nkeep_days = 400\n", "/etc/footbridge");
  ASSERT_TRUE(config);
  EXPECT_EQ(config->serve.trail.maxBytes, 2U << 20U);
  EXPECT_FALSE(config->serve.trail.monthly);
  EXPECT_EQ(config->serve.trail.keep.count(), 400);
  EXPECT_TRUE(
      mentions(issuesOf("[serve.trail]\nmax_megabytes = 0\n"), "/serve/trail/max_megabytes", "1"));
  EXPECT_TRUE(
      mentions(issuesOf("[serve.trail]\nkeep_dais = 1\n"), "/serve/trail/keep_dais", "keep_days"));
}

TEST(Config, SaysWhereTextIsNoToml) {
  const Issues issues = issuesOf("data = \n");
  ASSERT_EQ(issues.size(), 1U);
  EXPECT_NE(issues[0].text.find("Line 1"), std::string::npos) << issues[0].text;
  EXPECT_EQ(issuesOf("data = 'a'\ndata = 'b'\n").size(), 1U);
}

TEST(Config, AMissingFileIsToldByName) {
  const Result<Config> config = load("/nowhere/footbridge.toml");
  ASSERT_FALSE(config);
  EXPECT_NE(config.issues()[0].text.find("/nowhere/footbridge.toml"), std::string::npos);
}

}  // namespace
}  // namespace footbridge::config
