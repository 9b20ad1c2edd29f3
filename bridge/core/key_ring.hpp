#pragma once
// A folder of signing keys, one of which signs while all are published, so that a change of keys
// leaves no moment in which a server knows only the other one.

#include <filesystem>
#include <string>
#include <vector>

#include "core/signing.hpp"

namespace footbridge {

/// A key with the name under which it is published.
struct RingKey {
  std::string id;
  SigningKey key;
};

/// What a folder holds, without secrets.
struct RingEntry {
  std::string id;
  KeyKind kind = KeyKind::Rsa;
  bool signs = false;  ///< the current one
};

/// The key that signs: the current one of a folder, or the only one of a PEM file.
Result<RingKey> signingKey(const std::filesystem::path& folderOrFile);

/// Makes a key and stores it for this user only; the first one of a folder signs at once. Its id.
Result<std::string> addKey(const std::filesystem::path& folder, KeyKind kind);

/// All keys of the folder, by id.
Result<std::vector<RingEntry>> listKeys(const std::filesystem::path& folder);

/// All public keys as a JSON Web Key Set (RFC 7517).
Result<std::string> keySet(const std::filesystem::path& folder);

/// Lets that key sign from now on.
Issues useKey(const std::filesystem::path& folder, const std::string& id);

/// Deletes a key that does not sign any more.
Issues retireKey(const std::filesystem::path& folder, const std::string& id);

}  // namespace footbridge
