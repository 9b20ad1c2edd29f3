#include "core/signing.hpp"

#include <openssl/bio.h>
#include <openssl/core_names.h>
#include <openssl/ec.h>
#include <openssl/ecdsa.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rand.h>
#include <openssl/rsa.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>
#include <vector>

#include "core/digest.hpp"
#include "core/file.hpp"

namespace footbridge {
namespace {

constexpr int kRsaBits = 3072;       ///< 128 bits of strength (NIST SP 800-57 part 1, from memory)
constexpr int kLeastRsaBits = 2048;  ///< RFC 7518 section 3.3
constexpr std::size_t kP384Bytes = 48;

using Key = std::unique_ptr<EVP_PKEY, decltype(&EVP_PKEY_free)>;
using Bio = std::unique_ptr<BIO, decltype(&BIO_free_all)>;
using Number = std::unique_ptr<BIGNUM, decltype(&BN_free)>;

const unsigned char* octets(std::string_view text) {
  return static_cast<const unsigned char*>(static_cast<const void*>(text.data()));
}
unsigned char* octets(std::string& text) {
  return static_cast<unsigned char*>(static_cast<void*>(text.data()));
}

/// Without working cryptography nothing may go on, and no input leads here.
void must(bool done) {
  if (done) return;
  std::fputs("footbridge: the cryptographic library failed\n", stderr);
  std::abort();
}

std::string encoded(std::string_view bytes, std::string_view digits) {
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const auto at = [&](std::size_t k) {
      return i + k < bytes.size() ? static_cast<std::uint32_t>(octets(bytes)[i + k]) : 0U;
    };
    const std::uint32_t three = at(0) << 16U | at(1) << 8U | at(2);
    const std::size_t count = std::min<std::size_t>(bytes.size() - i, 3) + 1;
    for (std::size_t k = 0; k < count; ++k) out += digits[three >> (18 - 6 * k) & 63U];
  }
  return out;
}

const EVP_MD* digestOf(Algorithm algorithm) {
  return algorithm == Algorithm::Rs512 ? EVP_sha512() : EVP_sha384();
}

std::string bytesOf(const BIGNUM* number, std::size_t size) {
  std::string out(size, '\0');
  must(BN_bn2binpad(number, octets(out), static_cast<int>(size)) >= 0);
  return out;
}

std::string numberOf(EVP_PKEY* key, const char* which, std::size_t size) {
  BIGNUM* raw = nullptr;
  must(EVP_PKEY_get_bn_param(key, which, &raw) == 1);
  const Number number(raw, &BN_free);
  const std::size_t own = static_cast<std::size_t>(BN_num_bytes(number.get()));
  return base64url(bytesOf(number.get(), size == 0 ? own : size));
}

/// ECDSA gives ASN.1; a JSON Web Signature is both numbers with their leading zeros.
std::string sideBySide(std::string_view der) {
  const unsigned char* at = octets(der);
  const std::unique_ptr<ECDSA_SIG, decltype(&ECDSA_SIG_free)> pair(
      d2i_ECDSA_SIG(nullptr, &at, static_cast<long>(der.size())), &ECDSA_SIG_free);
  must(pair != nullptr);
  return bytesOf(ECDSA_SIG_get0_r(pair.get()), kP384Bytes) +
         bytesOf(ECDSA_SIG_get0_s(pair.get()), kP384Bytes);
}

Issue unusable(const std::filesystem::path& file, const std::string& why, const std::string& mend) {
  return {Severity::Error,
          IssueType::Value,
          "key",
          "",
          "The key file " + file.string() + " cannot be used: " + why + ".",
          mend};
}

bool isP384(EVP_PKEY* key) {
  std::array<char, 64> group{};
  std::size_t size = 0;
  return EVP_PKEY_get_utf8_string_param(key, OSSL_PKEY_PARAM_GROUP_NAME, group.data(), group.size(),
                                        &size) == 1 &&
         std::string_view(group.data(), size) == "secp384r1";
}

}  // namespace

struct SigningKey::State {
  Key key{nullptr, &EVP_PKEY_free};
  KeyKind kind = KeyKind::Rsa;
};

SigningKey::SigningKey(std::unique_ptr<State> state) : state_(std::move(state)) {}
SigningKey::~SigningKey() = default;
SigningKey::SigningKey(SigningKey&&) noexcept = default;
SigningKey& SigningKey::operator=(SigningKey&&) noexcept = default;

std::string_view name(Algorithm algorithm) {
  static constexpr std::array<std::string_view, 3> kNames{"RS384", "ES384", "RS512"};
  return kNames[static_cast<std::size_t>(algorithm)];
}

bool fits(Algorithm algorithm, KeyKind kind) {
  return (algorithm == Algorithm::Es384) == (kind == KeyKind::P384);
}

SigningKey SigningKey::make(KeyKind kind) {
  auto state = std::make_unique<State>();
  state->kind = kind;
  state->key.reset(kind == KeyKind::P384 ? EVP_EC_gen("P-384")
                                         : EVP_RSA_gen(static_cast<unsigned int>(kRsaBits)));
  must(state->key != nullptr);
  return SigningKey(std::move(state));
}

Result<SigningKey> SigningKey::fromFile(const std::filesystem::path& file) {
  const Result<std::string> text = readFile(file);
  if (!text) return text.issues();
  Issues privacy = privacyOf(file);
  if (!privacy.empty()) return privacy;
  const Bio bio(BIO_new_mem_buf(text->data(), static_cast<int>(text->size())), &BIO_free_all);
  // A callback of our own, since the library's asks on the terminal.
  const auto none = [](char*, int, int, void*) { return 0; };
  auto state = std::make_unique<State>();
  state->key.reset(PEM_read_bio_PrivateKey(bio.get(), nullptr, none, nullptr));
  const std::string mend = "Make one with `footbridge keys new`.";
  if (state->key == nullptr) {
    return unusable(file, "it holds no private key in PEM without passphrase", mend);
  }
  const int type = EVP_PKEY_get_base_id(state->key.get());
  state->kind = type == EVP_PKEY_EC ? KeyKind::P384 : KeyKind::Rsa;
  const bool good = type == EVP_PKEY_EC ? isP384(state->key.get())
                                        : type == EVP_PKEY_RSA &&
                                              EVP_PKEY_get_bits(state->key.get()) >= kLeastRsaBits;
  if (!good)
    return unusable(file, "the key is neither of P-384 nor RSA of 2048 bits or more", mend);
  return SigningKey(std::move(state));
}

KeyKind SigningKey::kind() const { return state_->kind; }

std::string SigningKey::pem() const {
  const Bio bio(BIO_new(BIO_s_mem()), &BIO_free_all);
  must(PEM_write_bio_PKCS8PrivateKey(bio.get(), state_->key.get(), nullptr, nullptr, 0, nullptr,
                                     nullptr) == 1);
  char* bytes = nullptr;
  const long size = BIO_get_mem_data(bio.get(), &bytes);
  return {bytes, static_cast<std::size_t>(size)};
}

std::string SigningKey::sign(Algorithm algorithm, std::string_view text) const {
  const std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context(EVP_MD_CTX_new(),
                                                                        &EVP_MD_CTX_free);
  std::size_t size = 0;
  must(EVP_DigestSignInit(context.get(), nullptr, digestOf(algorithm), nullptr,
                          state_->key.get()) == 1);
  must(EVP_DigestSign(context.get(), nullptr, &size, octets(text), text.size()) == 1);
  std::string out(size, '\0');
  must(EVP_DigestSign(context.get(), octets(out), &size, octets(text), text.size()) == 1);
  out.resize(size);
  return state_->kind == KeyKind::P384 ? sideBySide(out) : out;
}

std::string SigningKey::publicMembers() const {
  EVP_PKEY* const key = state_->key.get();
  if (state_->kind == KeyKind::P384) {
    return R"("crv":"P-384","kty":"EC","x":")" +
           numberOf(key, OSSL_PKEY_PARAM_EC_PUB_X, kP384Bytes) + R"(","y":")" +
           numberOf(key, OSSL_PKEY_PARAM_EC_PUB_Y, kP384Bytes) + "\"";
  }
  return R"("e":")" + numberOf(key, OSSL_PKEY_PARAM_RSA_E, 0) + R"(","kty":"RSA","n":")" +
         numberOf(key, OSSL_PKEY_PARAM_RSA_N, 0) + "\"";
}

std::string SigningKey::thumbprint() const {
  const std::string members = "{" + publicMembers() + "}";
  std::string digest(32, '\0');
  unsigned int size = 0;
  must(EVP_Digest(members.data(), members.size(), octets(digest), &size, EVP_sha256(), nullptr) ==
       1);
  return base64url(digest);
}

std::string base64url(std::string_view bytes) {
  return encoded(bytes, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_");
}

std::string base64(std::string_view bytes) {
  std::string out =
      encoded(bytes, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/");
  while (out.size() % 4 != 0) out += '=';
  return out;
}

std::string randomId() {
  std::string bytes(16, '\0');
  must(RAND_bytes(octets(bytes), static_cast<int>(bytes.size())) == 1);
  return hex(bytes);
}

std::string randomUuid() {
  std::string out = randomId();
  constexpr std::string_view kVariants = "89ab";
  out[12] = '4';
  out[16] = kVariants[static_cast<unsigned char>(out[16]) % kVariants.size()];
  for (const std::size_t at : {8U, 13U, 18U, 23U}) out.insert(at, 1, '-');
  return out;
}

Issues privacyOf(const std::filesystem::path& file) {
  struct stat about {};
  if (::stat(file.c_str(), &about) != 0 || (about.st_mode & 077U) == 0) return {};
  return {unusable(file, "others than its owner may use it", "chmod 600 " + file.string())};
}

}  // namespace footbridge
