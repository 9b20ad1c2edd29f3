#include "deliver/post.hpp"

#include <fstream>
#include <istream>
#include <ostream>

#include "app/commands.hpp"
#include "app/report.hpp"
#include "core/text.hpp"
#include "deliver/address.hpp"

namespace footbridge::app {
namespace {

struct Sent {
  std::size_t bundles = 0;
  std::size_t created = 0;
  std::size_t present = 0;
  std::size_t failed = 0;
  bool unreachable = false;
  bool nothing = false;  ///< there was nothing in an input
};

/// Where a bundle stood, for messages: it is named by its line, since its content is a patient's.
struct Line {
  const std::string& file;
  std::size_t number = 0;
};

void report(const Issues& issues, const Line& line, World& world, Sent& sent) {
  ++sent.failed;
  world.err << line.file << ':' << line.number << ": not delivered\n";
  for (const Issue& issue : issues) {
    printIssue(world.err, issue);
    sent.unreachable = sent.unreachable || issue.severity == Severity::Fatal;
  }
}

void postLines(std::istream& in, const std::string& name, deliver::Poster& poster, World& world,
               Sent& sent) {
  std::string text;
  bool any = false;
  for (Line line{name, 1}; std::getline(in, text); ++line.number) {
    if (trimmed(text).empty()) continue;
    any = true;
    const Result<deliver::Receipt> receipt = poster.post(std::move(text));
    if (!receipt) {
      report(receipt.issues(), line, world, sent);
      continue;
    }
    ++sent.bundles;
    sent.created += receipt->created;
    sent.present += receipt->present;
  }
  if (any) return;
  sent.nothing = true;
  world.err << name << ": there is no bundle in it\n";
}

}  // namespace

int post(const PostOptions& options, World& world) {
  if (!deliver::allowedBase(options.base)) {
    world.err << "The address has to be https, or http on this machine's loopback, without user, "
                 "password or query in it.\n";
    return kUsage;
  }
  deliver::Poster poster(options.base);
  Sent sent;
  for (const std::string& name : options.bundles) {
    if (name == "-") {
      postLines(world.in, "standard input", poster, world, sent);
      continue;
    }
    std::ifstream file(name, std::ios::binary);
    if (!file) {
      world.err << name << ": cannot be read\n";
      ++sent.failed;
      continue;
    }
    postLines(file, name, poster, world, sent);
  }
  world.out << sent.bundles << " bundles arrived: " << sent.created << " resources created, "
            << sent.present << " were there already; " << sent.failed << " bundles not delivered\n";
  if (sent.unreachable) return kUnreachable;
  return sent.failed == 0 && !sent.nothing ? kWell : kSetAside;
}

}  // namespace footbridge::app
