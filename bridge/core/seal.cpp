#include "core/seal.hpp"

#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>
#include <openssl/params.h>
#include <openssl/rand.h>
#include <sys/stat.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <mutex>
#include <vector>

#include "core/digest.hpp"
#include "core/file.hpp"
#include "core/text.hpp"

namespace footbridge {
namespace {

constexpr std::size_t kNonce = 12;
constexpr std::size_t kTag = 16;
constexpr std::size_t kHash = 16;

using Key = std::array<unsigned char, 32>;
using Context = std::unique_ptr<EVP_CIPHER_CTX, decltype(&EVP_CIPHER_CTX_free)>;

// OpenSSL speaks of unsigned characters; these two say so in one place.
const unsigned char* octets(std::string_view text) {
  return static_cast<const unsigned char*>(static_cast<const void*>(text.data()));
}
unsigned char* octets(char* text) { return static_cast<unsigned char*>(static_cast<void*>(text)); }

/// Without working cryptography nothing may go on, and no input leads here: better to end at once
/// than to store something unsealed.
void mustBeOne(int result) {
  if (result == 1) return;
  std::fputs("footbridge: the cryptographic library failed\n", stderr);
  std::abort();
}

Key hmac(const Key& key, std::string_view text) {
  Key out{};
  unsigned int size = 0;
  const unsigned char* done = HMAC(EVP_sha256(), key.data(), static_cast<int>(key.size()),
                                   octets(text), text.size(), out.data(), &size);
  mustBeOne(done != nullptr && size == out.size() ? 1 : 0);
  return out;
}

int hexValue(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

std::optional<Key> keyFrom(std::string_view text) {
  Key out{};
  if (text.size() != 2 * out.size()) return std::nullopt;
  for (std::size_t i = 0; i < out.size(); ++i) {
    const int high = hexValue(text[2 * i]);
    const int low = hexValue(text[2 * i + 1]);
    if (high < 0 || low < 0) return std::nullopt;
    out[i] = static_cast<unsigned char>(high * 16 + low);
  }
  return out;
}

Issue unusable(const std::filesystem::path& file, const std::string& why, const std::string& mend) {
  return {Severity::Fatal,
          IssueType::NotFound,
          "key",
          "",
          "The key file " + file.string() + " cannot be used: " + why + ".",
          mend};
}

Issues createKey(const std::filesystem::path& file) {
  std::string fresh(Key{}.size(), '\0');
  mustBeOne(RAND_bytes(octets(fresh.data()), static_cast<int>(fresh.size())));
  return createSecretFile(file, hex(fresh) + "\n");
}

/// Keyed hashes under one key. Taking the key up costs five times what a short text does, so each
/// context is used again; there are as many as threads that hash at the same time.
class Hasher {
 public:
  Hasher() = default;
  ~Hasher() { OPENSSL_cleanse(key_.data(), key_.size()); }
  Hasher(const Hasher&) = delete;
  Hasher& operator=(const Hasher&) = delete;

  void setKey(const Key& key) { key_ = key; }

  Key hash(std::string_view text) {
    Mac context = take();
    Key out{};
    std::size_t size = 0;
    mustBeOne(EVP_MAC_init(context.get(), nullptr, 0, nullptr));
    mustBeOne(EVP_MAC_update(context.get(), octets(text), text.size()));
    mustBeOne(EVP_MAC_final(context.get(), out.data(), &size, out.size()));
    const std::scoped_lock lock(mutex_);
    idle_.push_back(std::move(context));
    return out;
  }

 private:
  using Mac = std::unique_ptr<EVP_MAC_CTX, decltype(&EVP_MAC_CTX_free)>;

  Mac take() {
    {
      const std::scoped_lock lock(mutex_);
      if (!idle_.empty()) {
        Mac out = std::move(idle_.back());
        idle_.pop_back();
        return out;
      }
    }
    const std::unique_ptr<EVP_MAC, decltype(&EVP_MAC_free)> kind{
        EVP_MAC_fetch(nullptr, "HMAC", nullptr), &EVP_MAC_free};
    Mac out{EVP_MAC_CTX_new(kind.get()), &EVP_MAC_CTX_free};
    std::string digest = "SHA256";
    const std::array parameters{OSSL_PARAM_construct_utf8_string("digest", digest.data(), 0),
                                OSSL_PARAM_construct_end()};
    mustBeOne(EVP_MAC_init(out.get(), key_.data(), key_.size(), parameters.data()));
    return out;
  }

  Key key_{};
  std::mutex mutex_;
  std::vector<Mac> idle_;
};

}  // namespace

struct Sealer::State {
  Key sealing{};
  Hasher hashing;
  std::unique_ptr<EVP_CIPHER, decltype(&EVP_CIPHER_free)> cipher{
      EVP_CIPHER_fetch(nullptr, "AES-256-GCM", nullptr), &EVP_CIPHER_free};

  State() = default;
  State(const State&) = delete;
  State& operator=(const State&) = delete;
  ~State() { OPENSSL_cleanse(sealing.data(), sealing.size()); }
};

Sealer::Sealer(std::unique_ptr<State> state) : state_(std::move(state)) {}
Sealer::~Sealer() = default;
Sealer::Sealer(Sealer&&) noexcept = default;
Sealer& Sealer::operator=(Sealer&&) noexcept = default;

Result<Sealer> Sealer::fromKeyFile(const std::filesystem::path& file, Absent absent) {
  std::error_code ignored;
  if (absent == Absent::Create && !std::filesystem::exists(file, ignored)) {
    if (Issues issues = createKey(file); !issues.empty()) return issues;
  }
  struct stat status = {};
  if (::stat(file.c_str(), &status) != 0) {
    return unusable(file, "it is not there",
                    "Put back the file that the outbox was sealed with; without it nothing in the "
                    "outbox can be read.");
  }
  if ((status.st_mode & 077U) != 0) {
    return unusable(file, "others may read it", "Take their rights away: chmod 600.");
  }
  const Result<std::string> text = readFile(file);
  if (!text) return text.issues();
  const std::optional<Key> key = keyFrom(trimmed(*text));
  if (!key) {
    return unusable(file, "it does not hold 64 lower-case hexadecimal digits",
                    "Put back the file as it was made.");
  }
  auto state = std::make_unique<State>();
  state->sealing = hmac(*key, "footbridge seal 1");
  state->hashing.setKey(hmac(*key, "footbridge hash 1"));
  return Sealer(std::move(state));
}

std::string Sealer::seal(std::string_view text, std::string_view context) const {
  std::string out(kNonce + text.size() + kTag, '\0');
  unsigned char* const nonce = octets(out.data());
  mustBeOne(RAND_bytes(nonce, static_cast<int>(kNonce)));
  const Context cipher(EVP_CIPHER_CTX_new(), &EVP_CIPHER_CTX_free);
  int size = 0;
  mustBeOne(EVP_EncryptInit_ex2(cipher.get(), state_->cipher.get(), state_->sealing.data(), nonce,
                                nullptr));
  mustBeOne(EVP_EncryptUpdate(cipher.get(), nullptr, &size, octets(context),
                              static_cast<int>(context.size())));
  mustBeOne(EVP_EncryptUpdate(cipher.get(), nonce + kNonce, &size, octets(text),
                              static_cast<int>(text.size())));
  unsigned char* const end = nonce + kNonce + text.size();
  mustBeOne(EVP_EncryptFinal_ex(cipher.get(), end, &size));
  mustBeOne(EVP_CIPHER_CTX_ctrl(cipher.get(), EVP_CTRL_GCM_GET_TAG, static_cast<int>(kTag), end));
  return out;
}

std::optional<std::string> Sealer::open(std::string_view sealed, std::string_view context) const {
  if (sealed.size() < kNonce + kTag) return std::nullopt;
  std::string out(sealed.size() - kNonce - kTag, '\0');
  std::string tag(sealed.substr(sealed.size() - kTag));
  const std::string_view body = sealed.substr(kNonce, out.size());
  const Context cipher(EVP_CIPHER_CTX_new(), &EVP_CIPHER_CTX_free);
  int size = 0;
  mustBeOne(EVP_DecryptInit_ex2(cipher.get(), state_->cipher.get(), state_->sealing.data(),
                                octets(sealed), nullptr));
  mustBeOne(EVP_DecryptUpdate(cipher.get(), nullptr, &size, octets(context),
                              static_cast<int>(context.size())));
  mustBeOne(EVP_DecryptUpdate(cipher.get(), octets(out.data()), &size, octets(body),
                              static_cast<int>(body.size())));
  mustBeOne(
      EVP_CIPHER_CTX_ctrl(cipher.get(), EVP_CTRL_GCM_SET_TAG, static_cast<int>(kTag), tag.data()));
  std::array<unsigned char, kTag> rest{};
  if (EVP_DecryptFinal_ex(cipher.get(), rest.data(), &size) != 1) return std::nullopt;
  return out;
}

std::string Sealer::keyedHash(std::string_view text) const {
  const Key hash = state_->hashing.hash(text);
  std::string out;
  for (std::size_t i = 0; i < kHash; ++i) out += static_cast<char>(hash[i]);
  return out;
}

}  // namespace footbridge
