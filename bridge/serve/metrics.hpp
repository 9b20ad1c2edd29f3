#pragma once
// Figures for a monitoring system, in the text format of Prometheus.

#include <memory>
#include <string>
#include <string_view>

namespace footbridge::serve {

/// By any thread. Names, units and what they mean stand in one table in metrics.cpp and in
/// docs/service.md. No label holds anything that came with an assessment.
class Metrics {
 public:
  Metrics();
  ~Metrics();
  Metrics(const Metrics&) = delete;
  Metrics& operator=(const Metrics&) = delete;

  /// Adds to a counter. `label` is the value of the one label that the metric has, "" for none.
  void count(std::string_view name, std::string_view label, std::size_t more = 1);

  /// Sets a gauge, whose label values are given in the order of the table.
  void set(std::string_view name, std::string_view label, double value,
           std::string_view secondLabel = "");

  /// Adds an observation, in seconds or in what the name says.
  void observe(std::string_view name, double value);

  std::string text() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::serve
