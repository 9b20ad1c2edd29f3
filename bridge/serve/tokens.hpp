#pragma once
// Who may do what: bearer tokens with roles, of which only digests are kept.

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "core/result.hpp"

namespace footbridge::serve {

/// What a token lets its bearer do. Submit: hand in assessments and ask what became of them. Look:
/// states, bundles, metrics. Operate: decide about what has not arrived. Audit: read the trail.
enum class Role : std::uint8_t { Submit, Look, Operate, Audit };

/// "submit", "look", "operate" or "audit".
std::string_view word(Role role);
std::optional<Role> roleOf(std::string_view word);

struct Token {
  std::string name;
  std::vector<Role> roles;
  std::string digest;  ///< SHA-256 of the token, which has 256 random bits: no salt is needed
  std::string made;    ///< date

  bool may(Role role) const;
};

/// Reads a token file: a line for each, "name role,role digest date". All faults at once.
Result<std::vector<Token>> loadTokens(const std::filesystem::path& file);

/// Makes a token and adds it to the file, which is made (for this user only) if it is not there.
/// Gives the token itself, which is kept nowhere. Duplicate if the name is taken.
Result<std::string> addToken(const std::filesystem::path& file, const std::string& name,
                             const std::vector<Role>& roles, const std::string& today);

/// Takes a token out of the file. NotFound if there is none of that name.
Issues removeToken(const std::filesystem::path& file, const std::string& name);

/// The token that was presented, or nullptr. Takes the same time whichever it is, and whether or
/// not there is one.
const Token* findToken(const std::vector<Token>& tokens, std::string_view presented);

/// Slows down who presents wrong tokens. The right one is never kept waiting, so that nobody can
/// lock others out. One thread.
class Guard {
 public:
  using Moment = std::chrono::steady_clock::time_point;

  /// How long the refusal of one more wrong token waits.
  std::chrono::milliseconds wrong(const std::string& address, Moment now);
  void right(const std::string& address) { failures_.erase(address); }

 private:
  struct Failures {
    int count = 0;
    Moment last{};
  };
  std::unordered_map<std::string, Failures> failures_;
};

}  // namespace footbridge::serve
