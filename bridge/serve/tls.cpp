#include "serve/tls.hpp"

#include <openssl/ssl.h>

namespace footbridge::serve {
namespace {

namespace ssl = boost::asio::ssl;
using boost::system::error_code;

Issue unusable(const std::filesystem::path& file, const error_code& error) {
  return {Severity::Error,
          IssueType::Value,
          "tls",
          "",
          "The file " + file.string() + " cannot be used: " + error.message() + ".",
          "Certificates and keys are PEM files that this user may read; the key belongs to the "
          "first certificate of the chain."};
}

}  // namespace

Result<std::unique_ptr<ssl::context>> tlsContext(const TlsFiles& files) {
  auto out = std::make_unique<ssl::context>(ssl::context::tls_server);
  error_code error;
  out->set_options(ssl::context::default_workarounds | ssl::context::no_sslv2 |
                       ssl::context::no_sslv3 | ssl::context::no_tlsv1 | ssl::context::no_tlsv1_1 |
                       ssl::context::no_compression | SSL_OP_NO_RENEGOTIATION,
                   error);
  if (error) return unusable(files.certificate, error);
  out->use_certificate_chain_file(files.certificate.string(), error);
  if (error) return unusable(files.certificate, error);
  out->use_private_key_file(files.key.string(), ssl::context::pem, error);
  if (error) return unusable(files.key, error);
  if (files.clientAuthorities.empty()) return out;
  out->load_verify_file(files.clientAuthorities.string(), error);
  if (error) return unusable(files.clientAuthorities, error);
  out->set_verify_mode(ssl::verify_peer | ssl::verify_fail_if_no_peer_cert, error);
  if (error) return unusable(files.clientAuthorities, error);
  // Clients whose authority is sent to them pick the right one of several certificates.
  SSL_CTX_set_client_CA_list(out->native_handle(),
                             SSL_load_client_CA_file(files.clientAuthorities.c_str()));
  static constexpr unsigned char kContext[] = "footbridge";
  SSL_CTX_set_session_id_context(out->native_handle(), kContext, sizeof kContext - 1);
  return out;
}

std::string peerSubject(SSL* tls) {
  const std::unique_ptr<X509, decltype(&X509_free)> certificate(SSL_get1_peer_certificate(tls),
                                                                &X509_free);
  if (!certificate) return "";
  char name[256] = "";
  X509_NAME_oneline(X509_get_subject_name(certificate.get()), name, sizeof name);
  return name;
}

}  // namespace footbridge::serve
