#include <ostream>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "core/key_ring.hpp"

namespace footbridge::app {
namespace {

std::string_view word(KeyKind kind) { return kind == KeyKind::P384 ? "ES384" : "RS384, RS512"; }

/// What a person does with a new key that does not sign yet.
void tellRotation(const std::string& id, const KeysOptions& options, World& world) {
  const std::string at = " --dir " + options.folder.string();
  world.err << "The key " << id << " is made and does not sign yet. What comes next:\n"
            << "  1. Publish both keys where the server reads them: footbridge keys publish" << at
            << "\n  2. When the server knows the new one: footbridge keys rotate" << at << " --use "
            << id << "\n  3. After the longest life of a token: footbridge keys rotate" << at
            << " --retire OLD, and publish again\n";
}

int make(const KeysOptions& options, KeyKind kind, World& world, bool rotation) {
  const Result<std::string> id = addKey(options.folder, kind);
  if (!id) return refuse(id.issues(), world, kUsage);
  world.out << *id << '\n';
  if (rotation) {
    tellRotation(*id, options, world);
  } else {
    world.err << "The key " << *id << " is made, for " << word(kind)
              << ". Register its public part with the server: footbridge keys publish --dir "
              << options.folder.string() << "\n";
  }
  return kWell;
}

}  // namespace

int newKey(const KeysOptions& options, World& world) {
  const Result<std::vector<RingEntry>> there = listKeys(options.folder);
  if (there) {
    const Issue issue{Severity::Error,
                      IssueType::Duplicate,
                      "keys",
                      "",
                      "There are keys in " + options.folder.string() + " already.",
                      "Change them with `footbridge keys rotate`, or name another folder."};
    return refuse({issue}, world, kUsage);
  }
  return make(options, options.kind == "ec" ? KeyKind::P384 : KeyKind::Rsa, world, false);
}

int publishKeys(const KeysOptions& options, World& world) {
  const Result<std::string> set = keySet(options.folder);
  if (!set) return refuse(set.issues(), world, kUsage);
  world.out << *set << '\n';
  return kWell;
}

int rotateKeys(const KeysOptions& options, World& world) {
  if (!options.use.empty() || !options.retire.empty()) {
    const Issues issues = options.use.empty() ? retireKey(options.folder, options.retire)
                                              : useKey(options.folder, options.use);
    if (!issues.empty()) return refuse(issues, world, kUsage);
    world.err << (options.use.empty() ? "Deleted. Publish the keys again.\n"
                                      : "That key signs from the next token on.\n");
    return kWell;
  }
  const Result<std::vector<RingEntry>> there = listKeys(options.folder);
  if (!there) return refuse(there.issues(), world, kUsage);
  KeyKind kind = there->front().kind;
  for (const RingEntry& entry : *there) kind = entry.signs ? entry.kind : kind;
  return make(options, kind, world, true);
}

}  // namespace footbridge::app
