#include "deliver/strategy.hpp"

#include <array>

namespace footbridge::deliver {
namespace {

using config::Strategy;

constexpr std::string_view kHttp = "HL7 FHIR R4 http.html and capabilitystatement.html";

const std::array kRows{
    StrategyRow{Strategy::Transaction,
                "transaction",
                {Need::Transaction, Need::ConditionalCreate},
                "A visit arrives whole or not at all, and sending it again makes nothing twice.",
                kHttp,
                "verified"},
    StrategyRow{Strategy::Batch,
                "batch",
                {Need::Batch, Need::ConditionalCreate, Need::SearchByIdentifier},
                "What refers to nothing goes first, then what refers to that. A visit can arrive "
                "in part; sending it again makes nothing twice.",
                kHttp,
                "verified"},
    StrategyRow{
        Strategy::Single,
        "single",
        {Need::Create, Need::ConditionalCreate, Need::SearchByIdentifier},
        "One conditional create after another. A visit can arrive in part; sending it again "
        "makes nothing twice.",
        kHttp,
        "verified"},
    StrategyRow{
        Strategy::ClientIds,
        "client-ids",
        {Need::Update, Need::UpdateCreate, Need::SearchByIdentifier},
        "Each resource is put to an id that follows from the visit, so that even two senders "
        "at once make nothing twice. A visit can arrive in part.",
        kHttp,
        "verified"},
    StrategyRow{
        Strategy::ConditionalUpdate,
        "conditional-update",
        {Need::Create, Need::ConditionalUpdate, Need::SearchByIdentifier},
        "One conditional update after another. A visit can arrive in part; sending it again "
        "makes nothing twice, but a new version of what is there.",
        kHttp,
        "verified"},
    StrategyRow{
        Strategy::Search,
        "search",
        {Need::Create, Need::SearchByIdentifier},
        "Each resource is looked for, then created if it is not there. A visit can arrive in "
        "part; a server that finds late what it stored may make it twice.",
        kHttp,
        "verified"}};

}  // namespace

std::span<const StrategyRow> strategyTable() { return kRows; }

std::string_view word(Need need) {
  constexpr std::array<std::string_view, 8> kWords{"transaction",
                                                   "batch",
                                                   "create",
                                                   "update",
                                                   "conditionalCreate",
                                                   "conditionalUpdate",
                                                   "updateCreate",
                                                   "search by identifier"};
  return kWords[static_cast<std::size_t>(need)];
}

std::string_view word(Strategy strategy) {
  for (const StrategyRow& row : kRows) {
    if (row.strategy == strategy) return row.word;
  }
  return "auto";
}

bool inSteps(Strategy strategy) {
  return strategy != Strategy::Auto && strategy != Strategy::Transaction;
}

bool readsSingly(Strategy strategy) { return inSteps(strategy) && strategy != Strategy::Batch; }

}  // namespace footbridge::deliver
