// What was delivered lately is read again and compared: `outbox recheck`.

#include "deliver/recheck.hpp"

#include <charconv>
#include <map>
#include <memory>
#include <ostream>
#include <sstream>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "app/report.hpp"
#include "app/rows.hpp"
#include "core/text.hpp"
#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

using How = deliver::Looked::How;

constexpr std::int64_t kDays = 7;  ///< a weekend and a bank holiday; our choice

/// A delivery as `outbox list --json` tells it.
struct Delivery {
  std::int64_t row = 0;
  std::string destination;
  std::string system;
  std::string value;
  std::int64_t revision = 0;
  std::string receipt;
  bool accepted = false;  ///< by a person, as the record had it
  bool kept = true;       ///< its payload
};

std::int64_t numberOf(const json::Value& from, std::string_view name) {
  const json::Value* value = from.member(name);
  std::int64_t out = 0;
  if (value == nullptr || value->asNumber() == nullptr) return out;
  const std::string& text = value->asNumber()->text;
  std::from_chars(text.data(), text.data() + text.size(), out);
  return out;
}

Delivery deliveryOf(std::string_view line, const json::Value& told) {
  Delivery out;
  out.row = numberOf(told, "row");
  out.destination = told.text("destination");
  if (const json::Value* assessment = told.member("assessment")) {
    out.system = assessment->text("system");
    out.value = assessment->text("value");
  }
  out.revision = numberOf(told, "revision");
  out.accepted = told.text("reason").starts_with(outbox::kAccepted);
  const json::Value* kept = told.member("payloadKept");
  out.kept = kept != nullptr && kept->asBool() != nullptr && *kept->asBool();
  if (const json::Value* receipt = told.member("receipt")) {
    out.receipt = line.substr(receipt->span.begin, receipt->span.end - receipt->span.begin);
  }
  return out;
}

/// The outbox, by way of the service if one runs.
class Shelf {
 public:
  Shelf(const config::Config& config, World& world)
      : config_(config), world_(world), unfolder_(world.tables, std::string(programVersion())) {}

  Said run(const std::string& command, const OutboxOptions& options) {
    if (!outbox_) {
      if (auto said = askService(command, options, config_)) return *std::move(said);
      Result<outbox::Outbox> opened = openOutbox(config_, unfolder_);
      if (!opened) {
        refuse(opened.issues(), world_, kOwnFailure);
        return {kOwnFailure, "", ""};
      }
      outbox_ = std::make_unique<outbox::Outbox>(*std::move(opened));
    }
    std::ostringstream out;
    std::ostringstream err;
    World inner{world_.in, out, err, world_.now, world_.tables};
    const int code = runOutbox(command, options, *outbox_, inner);
    return {code, out.str(), err.str()};
  }

 private:
  const config::Config& config_;
  World& world_;
  Unfolder unfolder_;
  std::unique_ptr<outbox::Outbox> outbox_;
};

/// Of each assessment the revision that was delivered last: it is the one that the record shows.
std::vector<Delivery> latestOf(const std::string& lines) {
  std::map<std::string, std::size_t> known;
  std::vector<Delivery> out;
  std::istringstream in(lines);
  for (std::string line; std::getline(in, line);) {
    const Result<json::Value> told = json::read(line);
    if (!told) continue;
    Delivery each = deliveryOf(line, *told);
    const std::string visit = each.destination + "\n" + each.system + "\n" + each.value;
    const auto [place, isNew] = known.emplace(visit, out.size());
    if (isNew) {
      out.push_back(std::move(each));
    } else if (out[place->second].revision < each.revision) {
      out[place->second] = std::move(each);
    }
  }
  return out;
}

std::string_view word(How how) {
  switch (how) {
    case How::Same:
      return "same";
    case How::Accepted:
      return "accepted";
    case How::Differs:
      return "differs";
    case How::Unread:
      return "unread";
    default:
      return "unreachable";
  }
}

/// What was found, counted and told.
class Findings {
 public:
  Findings(const OutboxOptions& options, World& world) : options_(options), world_(world) {}

  void tell(const Delivery& what, std::string_view how, const deliver::Looked& found) {
    ++counts_[std::string(how)];
    if (options_.json) {
      world_.out << asJson(what, how, found) << '\n';
    } else if (how != "same" && how != "accepted" && how != "erased") {
      world_.out << "row " << what.row << "  " << what.destination << "  " << printable(what.value)
                 << " r" << what.revision << ": " << how << "\n    " << printable(found.reason)
                 << '\n';
    }
  }

  /// Tells the counts; gives the exit code.
  int conclude() {
    world_.err << counts_["same"] << " as they were sent, " << counts_["accepted"]
               << " accepted by a person, " << counts_["differs"] << " differ, "
               << counts_["unread"] + counts_["unreachable"] << " could not be read, "
               << counts_["erased"] << " too old to compare\n";
    if (counts_["differs"] > 0) {
      world_.err << "The record shows something else than was sent. Find out who changed it and "
                    "why; what is wrong there is corrected by a new revision. Both versions: "
                    "--json.\n";
    }
    if (counts_["differs"] + counts_["unread"] > 0) return kSetAside;
    if (counts_["unreachable"] > 0) return kUnreachable;
    const bool blind = counts_["erased"] > 0 && counts_["same"] + counts_["accepted"] == 0;
    if (blind) {
      world_.err << "Nothing could be compared: payloads are erased sooner than this looks back. "
                    "Raise keep_days below [outbox].\n";
    }
    return blind ? kSetAside : kWell;
  }

 private:
  static std::string asJson(const Delivery& what, std::string_view how,
                            const deliver::Looked& found) {
    json::Writer out;
    out.beginObject().name("row").number(what.row).member("destination", what.destination);
    out.name("assessment").beginObject().member("system", what.system);
    out.member("value", what.value).endObject().name("revision").number(what.revision);
    out.member("result", how).member("reason", found.reason);
    if (!found.evidence.empty()) out.name("differences").raw(found.evidence);
    out.endObject();
    return std::string(out.text());
  }

  const OutboxOptions& options_;
  World& world_;
  std::map<std::string, std::size_t> counts_;
};

/// One server and whether it can be reached at all.
struct Reader {
  std::unique_ptr<deliver::Recheck> recheck;
  deliver::Looked down{};  ///< Unreachable once it was found to be
};

/// The payload of a row; nothing if it cannot be had, which is told.
std::optional<std::string> payloadOf(const Delivery& what, Shelf& shelf, World& world) {
  OutboxOptions options;
  options.ids = {what.row};
  options.bundle = true;
  const Said said = shelf.run("show", options);
  if (said.code == kWell) return said.out;
  world.err << said.err;
  return std::nullopt;
}

deliver::Looked look(const Delivery& what, Shelf& shelf, Reader& reader, World& world) {
  if (reader.down.how == How::Unreachable) return reader.down;
  std::optional<std::string> bundle = payloadOf(what, shelf, world);
  if (!bundle) return {How::Unread, "What was sent cannot be read from the outbox.", ""};
  using Delivered = deliver::Delivered;
  const auto how = what.accepted ? Delivered::How::Accepted : Delivered::How::AsSent;
  deliver::Looked found = reader.recheck->look({*std::move(bundle), what.receipt, how});
  if (found.how == How::Unreachable) reader.down = found;
  return found;
}

int recheckAll(const config::Config& config, const OutboxOptions& options, World& world) {
  OutboxOptions asked = options;
  asked.state = "delivered";
  asked.json = true;
  if (asked.sinceDays == 0) asked.sinceDays = kDays;
  Shelf shelf(config, world);
  const Said listed = shelf.run("list", asked);
  if (listed.code != kWell) return listed.code;
  std::map<std::string, Reader> readers;
  Findings findings(options, world);
  for (const Delivery& what : latestOf(listed.out)) {
    const config::Destination* to = config.find(what.destination);
    if (to == nullptr || to->kind != config::Kind::Server) continue;
    Reader& reader = readers[what.destination];
    if (!reader.recheck) reader.recheck = std::make_unique<deliver::Recheck>(to->server);
    if (!what.kept) {
      findings.tell(what, "erased", {});
      continue;
    }
    const deliver::Looked found = look(what, shelf, reader, world);
    findings.tell(what, word(found.how), found);
  }
  return findings.conclude();
}

}  // namespace

int recheckOutbox(const OutboxOptions& options, World& world) {
  const Result<config::Config> config = loadConfiguration(options.config, world.tables);
  if (!config) return refuse(config.issues(), world, kUsage);
  if (options.to.empty()) return recheckAll(*config, options, world);
  const Result<config::Destination> to = findDestination(*config, options.to);
  if (!to) return refuse(to.issues(), world, kUsage);
  if (to->kind == config::Kind::Server) return recheckAll(*config, options, world);
  world.err << options.to << " is a folder: only a record server is read again.\n";
  return kUsage;
}

}  // namespace footbridge::app
