#include "app/rows.hpp"

#include <charconv>

#include "deliver/local.hpp"
#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

std::int64_t whole(const json::Value* value) {
  const json::Number* number = value == nullptr ? nullptr : value->asNumber();
  std::int64_t out = 0;
  if (number == nullptr) return out;
  std::from_chars(number->text.data(), number->text.data() + number->text.size(), out);
  return out;
}

bool flag(const json::Value& from, std::string_view name) {
  const json::Value* value = from.member(name);
  return value != nullptr && value->asBool() != nullptr && *value->asBool();
}

}  // namespace

std::optional<Said> askService(const std::string& command, const OutboxOptions& options,
                               const config::Config& config) {
  const std::filesystem::path socket = config.data / kServiceSocket;
  std::error_code ignored;
  if (!std::filesystem::exists(socket, ignored)) return std::nullopt;
  const Result<std::string> answer =
      deliver::askLocal(socket, "/outbox/command", commandText(command, options));
  if (!answer) return std::nullopt;
  const Result<json::Value> said = json::read(*answer);
  const json::Value* code = said ? said->member("code") : nullptr;
  if (code == nullptr || code->asNumber() == nullptr) return std::nullopt;
  return Said{static_cast<int>(whole(code)), std::string(said->text("out")),
              std::string(said->text("err"))};
}

std::string commandText(const std::string& command, const OutboxOptions& options) {
  json::Writer out;
  out.beginObject().member("command", command).member("to", options.to);
  out.member("state", options.state).member("because", options.because);
  out.member("by", options.by).member("version", options.version);
  out.name("ids").beginArray();
  for (const std::int64_t id : options.ids) out.number(id);
  out.endArray().name("olderThan").number(options.olderThan);
  out.name("sinceDays").number(options.sinceDays);
  out.name("all").boolean(options.all).name("check").boolean(options.check);
  out.name("bundle").boolean(options.bundle).name("json").boolean(options.json).endObject();
  return std::string(out.text());
}

Result<std::pair<std::string, OutboxOptions>> commandOf(std::string_view text) {
  const Result<json::Value> value = json::read(text);
  if (!value) return value.issues();
  OutboxOptions out;
  out.to = value->text("to");
  out.state = value->text("state");
  out.because = value->text("because");
  out.by = value->text("by");
  out.version = value->text("version");
  const json::Value* ids = value->member("ids");
  if (ids != nullptr && ids->asArray() != nullptr) {
    for (const json::Value& id : *ids->asArray()) out.ids.push_back(whole(&id));
  }
  out.olderThan = whole(value->member("olderThan"));
  out.sinceDays = whole(value->member("sinceDays"));
  out.all = flag(*value, "all");
  out.check = flag(*value, "check");
  out.bundle = flag(*value, "bundle");
  out.json = flag(*value, "json");
  const std::string command(value->text("command"));
  for (const std::string_view known :
       {"list", "show", "retry", "release", "drop", "withdraw", "accept"}) {
    if (command == known) return std::pair(command, std::move(out));
  }
  return Issue{Severity::Error,
               IssueType::NotSupported,
               "outbox",
               "",
               "There is no such command.",
               "list, show, retry, release, drop, withdraw or accept."};
}

}  // namespace footbridge::app
