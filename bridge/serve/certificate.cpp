#include "serve/certificate.hpp"

#include <openssl/bio.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

#include <ctime>
#include <memory>

#include "core/file.hpp"

namespace footbridge::serve {

Result<std::chrono::sys_seconds> validUntil(const std::filesystem::path& file) {
  const Result<std::string> text = readFile(file);
  if (!text) return text.issues();
  const std::unique_ptr<BIO, decltype(&BIO_free)> in(
      BIO_new_mem_buf(text->data(), static_cast<int>(text->size())), &BIO_free);
  const std::unique_ptr<X509, decltype(&X509_free)> certificate(
      PEM_read_bio_X509(in.get(), nullptr, nullptr, nullptr), &X509_free);
  std::tm end{};
  if (certificate && ASN1_TIME_to_tm(X509_get0_notAfter(certificate.get()), &end) == 1) {
    return std::chrono::sys_seconds(std::chrono::seconds(::timegm(&end)));
  }
  return Issue{Severity::Error,
               IssueType::Value,
               "certificate",
               "",
               "There is no certificate in " + file.string() + ".",
               "It has to be in PEM form, beginning with -----BEGIN CERTIFICATE-----."};
}

}  // namespace footbridge::serve
