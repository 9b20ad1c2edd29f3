#include <algorithm>
#include <functional>
#include <optional>
#include <ostream>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "app/report.hpp"
#include "app/rows.hpp"
#include "app/withdraw.hpp"
#include "core/text.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

using outbox::Outbox;
using outbox::Row;
using outbox::State;

std::string spokenTime(outbox::Time time) {
  return spoken(Instant{std::chrono::floor<std::chrono::seconds>(time), 0}) + " UTC";
}

std::string isoTime(outbox::Time time) {
  const auto seconds = std::chrono::floor<std::chrono::seconds>(time);
  std::string thousandths = std::to_string(1'000 + (time - seconds).count());
  thousandths[0] = '.';
  return text(Instant{seconds, 0}).insert(19, thousandths);
}

void appendRow(json::Writer& out, const Row& row) {
  out.beginObject().name("row").number(row.id).name("assessment").beginObject();
  out.member("system", row.system).member("value", row.value).endObject();
  out.name("revision").number(row.revision).member("destination", row.destination);
  out.member("state", outbox::word(row.state)).name("dropped").boolean(row.dropped);
  out.name("resources").number(row.resources).name("attempts").number(row.attempts);
  out.member("created", isoTime(row.created)).member("changed", isoTime(row.changed));
  if (row.state == State::Ready) out.member("due", isoTime(row.due));
  out.name("payloadKept").boolean(row.payloadKept).member("reason", row.reason);
  if (!row.receipt.empty()) out.name("receipt").raw(row.receipt);
  out.endObject();
}

std::string stateText(const Row& row) {
  if (row.dropped) return "dropped";
  if (row.step == outbox::Step::Confirm)
    return std::string(outbox::word(row.state)) + ", unconfirmed";
  return std::string(outbox::word(row.state));
}

std::string shortRow(const Row& row) {
  std::string out = std::to_string(row.id) + "  " + row.destination + "  " + stateText(row) + "  " +
                    printable(row.value) + " r" + std::to_string(row.revision) + "  since " +
                    spokenTime(row.changed);
  if (row.attempts > 0) out += "  tries " + std::to_string(row.attempts);
  if (row.reason.empty() || row.state == State::Delivered) return out;
  return out + "\n    " + printable(row.reason);
}

void printWhole(std::ostream& out, const Row& row) {
  out << "row          " << row.id << "\nassessment   " << printable(row.system) << " | "
      << printable(row.value) << ", revision " << row.revision << "\ndestination  "
      << row.destination << "\nstate        " << stateText(row) << " since "
      << spokenTime(row.changed) << "\nqueued       " << spokenTime(row.created)
      << "\ntries        " << row.attempts << "\nresources    " << row.resources
      << "\npayload      " << (row.payloadKept ? "kept, sealed" : "erased") << '\n';
  if (row.state == State::Ready) out << "next try     " << spokenTime(row.due) << '\n';
  if (!row.reason.empty()) out << "reason       " << printable(row.reason) << '\n';
  if (!row.receipt.empty()) out << "receipt      " << printable(row.receipt) << '\n';
}

/// One row in the form that was asked for.
Issues showRow(const OutboxOptions& options, Outbox& outbox, std::int64_t id, std::ostream& out) {
  if (options.bundle) {
    const Result<std::string> bundle = outbox.payload(id);
    if (!bundle) return bundle.issues();
    out << *bundle << '\n';
    return {};
  }
  const Result<Row> row = outbox.find(id);
  if (!row) return row.issues();
  if (options.json) {
    out << jsonRow(*row) << '\n';
  } else {
    printWhole(out, *row);
  }
  return {};
}

/// True for what a person should look at.
bool alarming(const Row& row, outbox::Time before) {
  if (row.dropped || row.state == State::Delivered) return false;
  return row.state != State::Ready || row.created < before;
}

/// The rows that were asked for: by number, or with --all every one in the state.
Result<std::vector<std::int64_t>> chosen(const OutboxOptions& options, State state,
                                         Outbox& outbox) {
  if (!options.all) return options.ids;
  const Result<std::vector<Row>> rows = outbox.list({options.to, state, 0, 0});
  if (!rows) return rows.issues();
  std::vector<std::int64_t> out;
  for (const Row& row : *rows) {
    if (!row.dropped) out.push_back(row.id);
  }
  return out;
}

using Decision = std::function<Issues(Outbox&, std::int64_t)>;

int decide(const OutboxOptions& options, Outbox& outbox, World& world, State state,
           std::string_view done, const Decision& decision) {
  const Result<std::vector<std::int64_t>> ids = chosen(options, state, outbox);
  if (!ids) return refuse(ids.issues(), world, kOwnFailure);
  int code = kWell;
  for (const std::int64_t id : *ids) {
    const Issues issues = decision(outbox, id);
    if (issues.empty()) {
      world.out << "row " << id << ": " << done << '\n';
    } else {
      code = std::max(code, refuse(issues, world, kSetAside));
    }
  }
  return code;
}

int list(const OutboxOptions& options, Outbox& outbox, World& world) {
  const std::optional<State> state = outbox::stateOf(options.state);
  outbox::Filter filter{options.to, state, 0, 0};
  if (options.sinceDays > 0) filter.since = clockTime() - std::chrono::days(options.sinceDays);
  const Result<std::vector<Row>> rows = outbox.list(filter);
  if (!rows) return refuse(rows.issues(), world, kOwnFailure);
  const outbox::Time before = clockTime() - std::chrono::minutes(options.olderThan);
  std::size_t alarms = 0;
  std::size_t shown = 0;
  for (const Row& row : *rows) {
    alarms += alarming(row, before) ? 1U : 0U;
    if (!state && (row.state == State::Delivered || row.dropped)) continue;
    ++shown;
    world.out << (options.json ? jsonRow(row) : shortRow(row)) << '\n';
  }
  world.err << shown << " rows";
  if (!state) world.err << " not delivered";
  world.err << "; " << alarms << " need a person\n";
  return options.check && alarms > 0 ? kSetAside : kWell;
}

int show(const OutboxOptions& options, Outbox& outbox, World& world) {
  for (const std::int64_t id : options.ids) {
    const Issues issues = showRow(options, outbox, id, world.out);
    if (!issues.empty()) return refuse(issues, world, kSetAside);
  }
  return kWell;
}

/// Opens the outbox of the configuration and runs the command on it, or has the service run it.
int with(const std::string& command, const OutboxOptions& options, World& world) {
  const Result<config::Config> config = loadConfiguration(options.config, world.tables);
  if (!config) return refuse(config.issues(), world, kUsage);
  if (!options.to.empty()) {
    const Result<config::Destination> to = findDestination(*config, options.to);
    if (!to) return refuse(to.issues(), world, kUsage);
  }
  if (const auto said = askService(command, options, *config)) {
    world.out << said->out;
    world.err << said->err;
    return said->code;
  }
  const Unfolder unfolder(world.tables, std::string(programVersion()));
  Result<Outbox> outbox = openOutbox(*config, unfolder);
  if (!outbox) return refuse(outbox.issues(), world, kOwnFailure);
  return runOutbox(command, options, *outbox, world);
}

int withRows(const std::string& command, const OutboxOptions& options, World& world) {
  if (!options.ids.empty() || options.all) return with(command, options, world);
  world.err << "Name the rows (see `footbridge outbox list`)"
            << (command == "drop" ? ".\n" : ", or say --all.\n");
  return kUsage;
}

}  // namespace

std::string jsonRow(const Row& row) {
  json::Writer out;
  appendRow(out, row);
  return std::string(out.text());
}

int runOutbox(const std::string& command, const OutboxOptions& options, Outbox& outbox,
              World& world) {
  if (command == "list") return list(options, outbox, world);
  if (command == "show") return show(options, outbox, world);
  if (command == "retry") {
    return decide(options, outbox, world, State::Refused, "ready, will be tried at once",
                  [](Outbox& at, std::int64_t id) { return at.retry(id, clockTime()); });
  }
  if (command == "release") {
    return decide(options, outbox, world, State::Held, "ready again",
                  [](Outbox& at, std::int64_t id) { return at.release(id, clockTime()); });
  }
  if (command == "withdraw") return withdrawRows(options, outbox, world);
  if (command == "accept") return acceptRows(options, outbox, world);
  return decide(options, outbox, world, State::Ready, "dropped, its payload is erased",
                [&options](Outbox& at, std::int64_t id) {
                  return at.drop(id, options.because, clockTime());
                });
}

int listOutbox(const OutboxOptions& options, World& world) { return with("list", options, world); }

int showOutbox(const OutboxOptions& options, World& world) { return with("show", options, world); }

int retryOutbox(const OutboxOptions& options, World& world) {
  return withRows("retry", options, world);
}

int releaseOutbox(const OutboxOptions& options, World& world) {
  return withRows("release", options, world);
}

int withdrawOutbox(const OutboxOptions& options, World& world) {
  return withRows("withdraw", options, world);
}

int acceptOutbox(const OutboxOptions& options, World& world) {
  return withRows("accept", options, world);
}

int dropOutbox(const OutboxOptions& options, World& world) {
  return withRows("drop", options, world);
}

}  // namespace footbridge::app
