#pragma once
// The ways in which a visit can be stored on a server, as data: what each asks of the server, what
// it promises, and in which order they are preferred.

#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

#include "config/config.hpp"

namespace footbridge::deliver {

/// What a CapabilityStatement can say of a server.
enum class Need : std::uint8_t {
  Transaction,
  Batch,
  Create,
  Update,
  ConditionalCreate,
  ConditionalUpdate,
  UpdateCreate,
  SearchByIdentifier
};

struct StrategyRow {
  config::Strategy strategy;
  std::string_view word;  ///< as in the configuration
  std::vector<Need> needs;
  std::string_view promise;  ///< whole sentences
  std::string_view source;
  std::string_view certainty;
};

/// Best first: `probe` takes the first one whose needs are met. The order is our choice.
std::span<const StrategyRow> strategyTable();

/// "conditionalCreate" and the like: how a CapabilityStatement calls it.
std::string_view word(Need need);

/// "auto", "transaction", "batch", ...
std::string_view word(config::Strategy strategy);

/// True if a visit goes in several requests.
bool inSteps(config::Strategy strategy);

/// True if the server may take no batches, so that what it stored is read one by one.
bool readsSingly(config::Strategy strategy);

}  // namespace footbridge::deliver
