#pragma once
// Certificates: the server's own, and what there is to know of one before it becomes a problem.

#include <boost/asio/ssl/context.hpp>
#include <memory>

#include "serve/wire.hpp"

namespace footbridge::serve {

/// TLS 1.2 or newer, no compression, no renegotiation; client certificates demanded if there are
/// authorities for them. Issues of type Value name the file.
Result<std::unique_ptr<boost::asio::ssl::context>> tlsContext(const TlsFiles& files);

/// The subject of the certificate that the other side showed, "" for none.
std::string peerSubject(SSL* tls);

}  // namespace footbridge::serve
