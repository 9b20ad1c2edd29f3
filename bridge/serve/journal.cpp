#include "serve/journal.hpp"

#include <spdlog/logger.h>
#include <spdlog/sinks/stdout_sinks.h>

#include <array>
#include <chrono>

#include "core/text.hpp"
#include "core/time.hpp"
#include "json/writer.hpp"

namespace footbridge::serve {
namespace {

constexpr std::array<std::string_view, 3> kLevels{"info", "warning", "error"};

/// Spdlog's own patterns do not escape what stands in a message, so the line is made here.
std::string lineOf(Level level, std::string_view event, Journal::Details details) {
  json::Writer out;
  out.beginObject().member("at", stamp());
  out.member("level", kLevels[static_cast<std::size_t>(level)]).member("event", event);
  for (const auto& [name, value] : details) out.member(name, printable(value));
  out.endObject();
  return std::string(out.text());
}

spdlog::level::level_enum levelOf(Level level) {
  if (level == Level::Info) return spdlog::level::info;
  return level == Level::Warning ? spdlog::level::warn : spdlog::level::err;
}

}  // namespace

struct Journal::State {
  std::unique_ptr<spdlog::logger> logger = std::make_unique<spdlog::logger>(
      "footbridge", spdlog::sink_ptr(std::make_unique<spdlog::sinks::stderr_sink_mt>()));
};

Journal::Journal() : state_(std::make_unique<State>()) { state_->logger->set_pattern("%v"); }

Journal::~Journal() = default;

void Journal::write(Level level, std::string_view event, Details details) {
  state_->logger->log(levelOf(level), lineOf(level, event, details));
}

std::string stamp(std::chrono::system_clock::time_point at) {
  const auto now = std::chrono::floor<std::chrono::milliseconds>(at);
  const auto seconds = std::chrono::floor<std::chrono::seconds>(now);
  std::string thousandths = std::to_string(1'000 + (now - seconds).count());
  thousandths[0] = '.';
  return text(Instant{seconds, 0}).substr(0, 19) + thousandths + "Z";
}

}  // namespace footbridge::serve
