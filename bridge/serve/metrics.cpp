#include "serve/metrics.hpp"

#include <prometheus/counter.h>
#include <prometheus/gauge.h>
#include <prometheus/histogram.h>
#include <prometheus/registry.h>
#include <prometheus/text_serializer.h>

#include <algorithm>
#include <array>
#include <map>

namespace footbridge::serve {
namespace {

enum class Kind : std::uint8_t { Counter, Gauge, Histogram };

struct Row {
  std::string_view name;
  Kind kind;
  std::string_view label;
  std::string_view secondLabel;
  std::string_view help;
};

constexpr std::array<Row, 21> kRows{{
    {"footbridge_http_requests_total", Kind::Counter, "status", "", "Answers by their status"},
    {"footbridge_http_request_duration_seconds", Kind::Histogram, "", "",
     "From the first byte of a request to its answer"},
    {"footbridge_http_connections", Kind::Gauge, "", "", "Connections that are open"},
    {"footbridge_mllp_messages_total", Kind::Counter, "code", "",
     "Messages of HL7 v2 by their acknowledgement"},
    {"footbridge_mllp_message_duration_seconds", Kind::Histogram, "", "",
     "From a whole message to its acknowledgement"},
    {"footbridge_mllp_connections", Kind::Gauge, "", "", "Connections for messages that are open"},
    {"footbridge_mllp_strange_total", Kind::Counter, "kind", "",
     "Stray bytes between frames, oversized and unfinished frames"},
    {"footbridge_folder_files_total", Kind::Counter, "outcome", "",
     "Files of watched folders by what became of them"},
    {"footbridge_access_denied_total", Kind::Counter, "reason", "", "Accesses refused"},
    {"footbridge_intake_assessments_total", Kind::Counter, "outcome", "",
     "Assessments that came in, by what became of them"},
    {"footbridge_intake_last_timestamp_seconds", Kind::Gauge, "", "",
     "When an assessment was last taken"},
    {"footbridge_intake_waiting", Kind::Gauge, "", "", "Submissions that wait for their turn"},
    {"footbridge_commit_rows", Kind::Histogram, "", "", "Rows stored by one commit"},
    {"footbridge_commit_duration_seconds", Kind::Histogram, "", "", "How long a commit took"},
    {"footbridge_deliveries_total", Kind::Counter, "outcome", "",
     "Tries of delivery by the state in which they left the row"},
    {"footbridge_outbox_rows", Kind::Gauge, "destination", "state", "Rows that are not delivered"},
    {"footbridge_outbox_oldest_seconds", Kind::Gauge, "destination", "",
     "Age of the oldest row that is ready"},
    {"footbridge_alarm", Kind::Gauge, "kind", "", "1 while a person should look"},
    {"footbridge_certificate_end_timestamp_seconds", Kind::Gauge, "file", "",
     "When a certificate ends"},
    {"footbridge_connection_faults", Kind::Gauge, "", "",
     "Faults of ours while serving a connection"},
    {"footbridge_info", Kind::Gauge, "version", "tables", "Program and digest of its tables"},
}};

const std::vector<double> kSeconds{0.0005, 0.001, 0.002, 0.004, 0.008, 0.016, 0.032, 0.064,
                                   0.125,  0.25,  0.5,   1,     2.5,   5,     10};
const std::vector<double> kCounts{1, 2, 4, 8, 16, 32, 64, 128, 256};

const Row& rowOf(std::string_view name) {
  return *std::find_if(kRows.begin(), kRows.end(),
                       [name](const Row& row) { return row.name == name; });
}

prometheus::Labels labelsOf(const Row& row, std::string_view first, std::string_view second) {
  prometheus::Labels out;
  if (!row.label.empty()) out.emplace(row.label, first);
  if (!row.secondLabel.empty()) out.emplace(row.secondLabel, second);
  return out;
}

}  // namespace

struct Metrics::State {
  prometheus::Registry registry;
  std::map<std::string_view, prometheus::Family<prometheus::Counter>*> counters;
  std::map<std::string_view, prometheus::Family<prometheus::Gauge>*> gauges;
  std::map<std::string_view, prometheus::Histogram*> histograms;

  State() {
    for (const Row& row : kRows) add(row);
  }

  void add(const Row& row) {
    const std::string name(row.name);
    const std::string help(row.help);
    if (row.kind == Kind::Counter) {
      counters[row.name] = &prometheus::BuildCounter().Name(name).Help(help).Register(registry);
    } else if (row.kind == Kind::Gauge) {
      gauges[row.name] = &prometheus::BuildGauge().Name(name).Help(help).Register(registry);
    } else {
      const bool seconds = row.name.ends_with("_seconds");
      histograms[row.name] =
          &prometheus::BuildHistogram().Name(name).Help(help).Register(registry).Add(
              {}, seconds ? kSeconds : kCounts);
    }
  }
};

Metrics::Metrics() : state_(std::make_unique<State>()) {}
Metrics::~Metrics() = default;

void Metrics::count(std::string_view name, std::string_view label, std::size_t more) {
  state_->counters.at(name)
      ->Add(labelsOf(rowOf(name), label, ""))
      .Increment(static_cast<double>(more));
}

void Metrics::set(std::string_view name, std::string_view label, double value,
                  std::string_view secondLabel) {
  state_->gauges.at(name)->Add(labelsOf(rowOf(name), label, secondLabel)).Set(value);
}

void Metrics::observe(std::string_view name, double value) {
  state_->histograms.at(name)->Observe(value);
}

std::string Metrics::text() const {
  return prometheus::TextSerializer().Serialize(state_->registry.Collect());
}

}  // namespace footbridge::serve
