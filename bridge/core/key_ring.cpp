#include "core/key_ring.hpp"

#include <algorithm>

#include "core/file.hpp"
#include "core/text.hpp"

namespace footbridge {
namespace {

constexpr std::string_view kSuffix = ".pem";
constexpr std::string_view kCurrent = "current";

Issue fault(std::string text, std::string mend) {
  return {Severity::Error, IssueType::NotFound, "keys", "", std::move(text), std::move(mend)};
}

std::filesystem::path fileOf(const std::filesystem::path& folder, const std::string& id) {
  return folder / (id + std::string(kSuffix));
}

/// What the folder says signs; "" if it says nothing.
std::string currentOf(const std::filesystem::path& folder) {
  const Result<std::string> text = readFile(folder / kCurrent);
  return text ? std::string(trimmed(*text)) : std::string();
}

std::vector<std::string> idsIn(const std::filesystem::path& folder) {
  std::vector<std::string> out;
  std::error_code ignored;
  for (const auto& entry : std::filesystem::directory_iterator(folder, ignored)) {
    if (entry.path().extension() == kSuffix) out.push_back(entry.path().stem().string());
  }
  std::sort(out.begin(), out.end());
  return out;
}

Result<RingKey> fromFolder(const std::filesystem::path& folder, const std::string& id) {
  Result<SigningKey> key = SigningKey::fromFile(fileOf(folder, id));
  if (!key) return key.issues();
  return RingKey{id, *std::move(key)};
}

Issues unknown(const std::filesystem::path& folder, const std::string& id) {
  const std::vector<std::string> ids = idsIn(folder);
  if (std::find(ids.begin(), ids.end(), id) != ids.end()) return {};
  return {fault("There is no key " + printable(id) + " in " + folder.string() + ".",
                "`footbridge keys publish` shows the ids of those that are there.")};
}

}  // namespace

Result<RingKey> signingKey(const std::filesystem::path& folderOrFile) {
  std::error_code ignored;
  if (!std::filesystem::is_directory(folderOrFile, ignored)) {
    Result<SigningKey> key = SigningKey::fromFile(folderOrFile);
    if (!key) return key.issues();
    std::string id = key->thumbprint();
    return RingKey{std::move(id), *std::move(key)};
  }
  const std::string id = currentOf(folderOrFile);
  if (id.empty()) {
    return fault("No key in " + folderOrFile.string() + " signs.",
                 "Make one with `footbridge keys new --dir " + folderOrFile.string() + "`.");
  }
  return fromFolder(folderOrFile, id);
}

Result<std::string> addKey(const std::filesystem::path& folder, KeyKind kind) {
  std::error_code failed;
  std::filesystem::create_directories(folder, failed);
  if (failed) {
    return fault("The folder " + folder.string() + " cannot be made: " + failed.message() + ".",
                 "Check the path and whether this user may write there.");
  }
  std::filesystem::permissions(folder, std::filesystem::perms::owner_all, failed);
  const SigningKey key = SigningKey::make(kind);
  const std::string id = key.thumbprint();
  if (Issues issues = createSecretFile(fileOf(folder, id), key.pem()); !issues.empty()) {
    return issues;
  }
  if (currentOf(folder).empty()) {
    if (Issues issues = useKey(folder, id); !issues.empty()) return issues;
  }
  return id;
}

Result<std::vector<RingEntry>> listKeys(const std::filesystem::path& folder) {
  const std::string current = currentOf(folder);
  std::vector<RingEntry> out;
  for (const std::string& id : idsIn(folder)) {
    const Result<RingKey> key = fromFolder(folder, id);
    if (!key) return key.issues();
    out.push_back({id, key->key.kind(), id == current});
  }
  if (!out.empty()) return out;
  return fault("There is no key in " + folder.string() + ".",
               "Make one with `footbridge keys new --dir " + folder.string() + "`.");
}

// The members of a key are base64url and fixed names, so nothing has to be escaped.
Result<std::string> keySet(const std::filesystem::path& folder) {
  const Result<std::vector<RingEntry>> entries = listKeys(folder);
  if (!entries) return entries.issues();
  std::string out = "{\"keys\":[";
  for (const RingEntry& entry : *entries) {
    const Result<RingKey> key = fromFolder(folder, entry.id);
    if (!key) return key.issues();
    if (out.back() != '[') out += ',';
    out += "{" + key->key.publicMembers() + R"(,"kid":")" + entry.id +
           R"(","use":"sig","key_ops":["verify"]})";
  }
  return out + "]}";
}

Issues useKey(const std::filesystem::path& folder, const std::string& id) {
  if (Issues issues = unknown(folder, id); !issues.empty()) return issues;
  return writeFileAtomically(folder / kCurrent, id + "\n");
}

Issues retireKey(const std::filesystem::path& folder, const std::string& id) {
  if (Issues issues = unknown(folder, id); !issues.empty()) return issues;
  if (currentOf(folder) == id) {
    return {fault("The key " + id + " signs.",
                  "Let another one sign first: `footbridge keys rotate --use KID`.")};
  }
  std::error_code failed;
  std::filesystem::remove(fileOf(folder, id), failed);
  if (!failed) return {};
  return {fault("The key " + id + " cannot be deleted: " + failed.message() + ".",
                "Check whether this user may write there.")};
}

}  // namespace footbridge
