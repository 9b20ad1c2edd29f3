#include "serve/tokens.hpp"

#include <sys/random.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <sstream>

#include "core/digest.hpp"
#include "core/file.hpp"
#include "core/text.hpp"

namespace footbridge::serve {
namespace {

constexpr std::array<std::string_view, 4> kRoles{"submit", "look", "operate", "audit"};
constexpr std::string_view kPrefix = "footbridge_";  // scanners for leaked secrets can look for it
constexpr std::size_t kSecret = 32;                  // bytes
constexpr std::size_t kRemembered = 10'000;          // addresses
constexpr std::chrono::minutes kForgotten{15};
constexpr std::chrono::milliseconds kFirstDelay{200};
constexpr int kMostDoublings = 5;  // 200 ms, doubled so often: 6.4 s

bool isDigest(std::string_view text) {
  return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

Issue fault(const std::filesystem::path& file, std::size_t line, const std::string& what) {
  return {Severity::Error,
          IssueType::Value,
          "tokens",
          "",
          file.string() + ", line " + std::to_string(line) + ": " + what,
          "A line is: name, roles with commas between, digest, date. Make it with `footbridge "
          "tokens new`."};
}

std::optional<std::vector<Role>> rolesOf(const std::string& text) {
  std::vector<Role> out;
  std::istringstream words(text);
  for (std::string word; std::getline(words, word, ',');) {
    const std::optional<Role> role = roleOf(word);
    if (!role) return std::nullopt;
    out.push_back(*role);
  }
  return out.empty() ? std::nullopt : std::optional(out);
}

std::string lineOf(const Token& token) {
  std::string roles;
  for (const Role role : token.roles) (roles += roles.empty() ? "" : ",") += word(role);
  return token.name + " " + roles + " " + token.digest + " " + token.made + "\n";
}

Issues store(const std::filesystem::path& file, const std::vector<Token>& tokens) {
  std::string text;
  for (const Token& token : tokens) text += lineOf(token);
  return writeFileAtomically(file, text, {.mode = 0600});
}

std::optional<std::string> randomHex() {
  std::string bytes(kSecret, '\0');
  if (::getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size())) {
    return std::nullopt;
  }
  return hex(bytes);
}

Result<std::vector<Token>> loadIfThere(const std::filesystem::path& file) {
  std::error_code ignored;
  if (!std::filesystem::exists(file, ignored)) return std::vector<Token>{};
  return loadTokens(file);
}

}  // namespace

std::string_view word(Role role) { return kRoles[static_cast<std::size_t>(role)]; }

std::optional<Role> roleOf(std::string_view word) {
  const auto* found = std::find(kRoles.begin(), kRoles.end(), word);
  if (found == kRoles.end()) return std::nullopt;
  return static_cast<Role>(found - kRoles.begin());
}

bool Token::may(Role role) const {
  return std::find(roles.begin(), roles.end(), role) != roles.end();
}

Result<std::vector<Token>> loadTokens(const std::filesystem::path& file) {
  const Result<std::string> text = readFile(file);
  if (!text) return text.issues();
  Issues issues;
  std::vector<Token> out;
  std::istringstream lines(*text);
  std::size_t number = 0;
  for (std::string line; std::getline(lines, line);) {
    ++number;
    if (line.empty() || line.front() == '#') continue;
    std::istringstream words(line);
    Token token;
    std::string roles;
    words >> token.name >> roles >> token.digest >> token.made;
    const std::optional<std::vector<Role>> read = rolesOf(roles);
    if (!plainName(token.name)) issues.push_back(fault(file, number, "the name is no good."));
    if (!read) issues.push_back(fault(file, number, "the roles are no good."));
    if (!isDigest(token.digest)) issues.push_back(fault(file, number, "the digest is no good."));
    token.roles = read.value_or(std::vector<Role>{});
    out.push_back(std::move(token));
  }
  if (!issues.empty()) return issues;
  return out;
}

Result<std::string> addToken(const std::filesystem::path& file, const std::string& name,
                             const std::vector<Role>& roles, const std::string& today) {
  if (!plainName(name)) {
    return Issue{Severity::Error,
                 IssueType::Value,
                 "tokens",
                 "",
                 "The name of a token is made of a-z, 0-9, - and _, at most 40 of them.",
                 "Name it after who will use it: it stands in the trail."};
  }
  Result<std::vector<Token>> tokens = loadIfThere(file);
  if (!tokens) return tokens.issues();
  if (std::any_of(tokens->begin(), tokens->end(),
                  [&name](const Token& each) { return each.name == name; })) {
    return Issue{Severity::Error,
                 IssueType::Duplicate,
                 "tokens",
                 "",
                 "There is a token named " + name + " already.",
                 "Give this one another name, or take the other out: `footbridge tokens revoke`."};
  }
  const std::optional<std::string> secret = randomHex();
  if (!secret) {
    return Issue{Severity::Fatal,
                 IssueType::Exception,
                 "tokens",
                 "",
                 "The system gave no random bytes.",
                 ""};
  }
  std::string token = std::string(kPrefix) + *secret;
  tokens->push_back({name, roles, sha256(token), today});
  if (Issues issues = store(file, *tokens); !issues.empty()) return issues;
  return token;
}

Issues removeToken(const std::filesystem::path& file, const std::string& name) {
  Result<std::vector<Token>> tokens = loadTokens(file);
  if (!tokens) return tokens.issues();
  const auto removed =
      std::erase_if(*tokens, [&name](const Token& each) { return each.name == name; });
  if (removed > 0) return store(file, *tokens);
  return {{Severity::Error, IssueType::NotFound, "tokens", "",
           "There is no token named \"" + printable(name) + "\".",
           "`footbridge tokens list` shows those there are."}};
}

const Token* findToken(const std::vector<Token>& tokens, std::string_view presented) {
  const std::string digest = sha256(presented);
  const Token* found = nullptr;
  for (const Token& token : tokens) {
    unsigned difference = token.digest.size() == digest.size() ? 0 : 1;
    for (std::size_t i = 0; i < digest.size() && i < token.digest.size(); ++i) {
      difference |= static_cast<unsigned>(static_cast<unsigned char>(digest[i]) ^
                                          static_cast<unsigned char>(token.digest[i]));
    }
    if (difference == 0) found = &token;
  }
  return found;
}

std::chrono::milliseconds Guard::wrong(const std::string& address, Moment now) {
  if (failures_.size() >= kRemembered) {
    std::erase_if(failures_,
                  [now](const auto& each) { return now - each.second.last > kForgotten; });
  }
  if (failures_.size() >= kRemembered) failures_.clear();
  Failures& known = failures_[address];
  if (now - known.last > kForgotten) known.count = 0;
  known.last = now;
  const int doublings = std::min(known.count++, kMostDoublings);
  return kFirstDelay * (1 << doublings);
}

}  // namespace footbridge::serve
