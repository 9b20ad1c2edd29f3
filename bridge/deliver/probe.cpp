#include "deliver/probe.hpp"

#include <algorithm>
#include <array>

#include "deliver/judge.hpp"
#include "deliver/token.hpp"
#include "deliver/transport.hpp"
#include "json/value.hpp"

namespace footbridge::deliver {
namespace {

/// What a bundle of ours writes (Device only where an instrument has a serial number).
constexpr std::array<std::string_view, 4> kTypes{"Observation", "DiagnosticReport", "Provenance",
                                                 "Device"};

bool flag(const json::Value& of, std::string_view name) {
  const json::Value* value = of.member(name);
  return value != nullptr && value->asBool() != nullptr && *value->asBool();
}

const json::Array& list(const json::Value* of, std::string_view name) {
  static const json::Array kNone;
  const json::Value* value = of == nullptr ? nullptr : of->member(name);
  return value == nullptr || value->asArray() == nullptr ? kNone : *value->asArray();
}

/// True if an element's member has that text: lists(x, "interaction", "code", "create").
bool lists(const json::Value* of, std::string_view name, std::string_view member,
           std::string_view text) {
  const json::Array& all = list(of, name);
  return std::any_of(all.begin(), all.end(),
                     [&](const json::Value& each) { return each.text(member) == text; });
}

TypeAbility abilityOf(const json::Value& rest, std::string_view type) {
  TypeAbility out;
  out.type = type;
  for (const json::Value& each : list(&rest, "resource")) {
    if (each.text("type") != type) continue;
    out.create = lists(&each, "interaction", "code", "create");
    out.update = lists(&each, "interaction", "code", "update");
    out.conditionalCreate = flag(each, "conditionalCreate");
    out.conditionalUpdate = flag(each, "conditionalUpdate");
    out.byIdentifier = lists(&each, "searchParam", "name", "identifier");
    // _tag is a parameter of every resource and seldom listed for each.
    if (type == "Provenance") out.byIdentifier = true;
  }
  return out;
}

bool all(const Ability& ability, bool TypeAbility::*member) {
  // An instrument is written only sometimes, so that Device alone decides nothing.
  return std::all_of(ability.types.begin(), ability.types.end(), [member](const TypeAbility& each) {
    return each.type == "Device" || each.*member;
  });
}

std::string without(const Ability& ability, bool TypeAbility::*member) {
  std::string out;
  for (const TypeAbility& each : ability.types) {
    if (!(each.*member)) out += (out.empty() ? "" : ", ") + each.type;
  }
  return out;
}

void tellLacks(const Ability& ability, Choice& out) {
  if (!ability.fhirVersion.starts_with("4.0")) {
    out.because.push_back("It speaks FHIR " + ability.fhirVersion +
                          "; bundles are FHIR 4.0.1 (R4).");
    out.possible = false;
  }
  if (!ability.json) out.because.emplace_back("It does not list JSON among its formats.");
  const std::string missing = without(ability, &TypeAbility::create);
  if (!missing.empty()) out.because.push_back("It does not say that it creates: " + missing + ".");
  const std::string blind = without(ability, &TypeAbility::byIdentifier);
  if (!blind.empty()) {
    out.because.push_back("It does not list search by identifier for: " + blind +
                          ". Conditions on it may then match everything or nothing.");
  }
}

void chooseFreely(const Ability& ability, Choice& out) {
  out.strategy = config::Strategy::Transaction;
  if (ability.transaction && all(ability, &TypeAbility::conditionalCreate)) {
    out.because.emplace_back(
        "It takes transactions and conditional creates: a visit arrives whole or not at all, and "
        "sending it again makes nothing twice.");
    if (all(ability, &TypeAbility::conditionalUpdate)) return;
    out.because.emplace_back(
        "It does not say that it takes conditional updates, so that corrections may be refused.");
    return;
  }
  out.possible = false;
  out.because.emplace_back(
      ability.transaction
          ? "It does not offer conditional creates, so that sending again after a lost answer "
            "could "
            "make a visit twice."
          : "It does not offer transactions, so that a visit could arrive in part.");
  out.because.emplace_back(
      "If its statement is incomplete, pin strategy = \"transaction\" after a trial on a test "
      "server.");
}

}  // namespace

std::string_view word(config::Strategy strategy) {
  constexpr std::array<std::string_view, 2> kWords{"auto", "transaction"};
  return kWords[static_cast<std::size_t>(strategy)];
}

Result<Ability> readAbility(std::string_view capabilityStatement) {
  const Result<json::Value> body = json::read(capabilityStatement);
  if (!body || body->text("resourceType") != "CapabilityStatement") {
    return Issue{Severity::Error,
                 IssueType::Structure,
                 "deliver",
                 "",
                 "What the server shows at /metadata is no CapabilityStatement.",
                 "Check that base is the address of the FHIR server itself."};
  }
  Ability out;
  if (const json::Value* software = body->member("software")) {
    out.software =
        std::string(software->text("name")) + " " + std::string(software->text("version"));
  }
  out.fhirVersion = body->text("fhirVersion");
  for (const json::Value& format : list(&*body, "format")) {
    const std::string* name = format.asString();
    out.json = out.json || (name != nullptr && name->find("json") != std::string::npos);
  }
  const json::Array& rests = list(&*body, "rest");
  const json::Value none;
  const json::Value& rest = rests.empty() ? none : rests.front();
  out.transaction = lists(&rest, "interaction", "code", "transaction");
  out.batch = lists(&rest, "interaction", "code", "batch");
  for (const std::string_view type : kTypes) out.types.push_back(abilityOf(rest, type));
  return out;
}

Choice choose(const Ability& ability, config::Strategy pinned) {
  Choice out;
  tellLacks(ability, out);
  if (pinned == config::Strategy::Auto) {
    chooseFreely(ability, out);
    return out;
  }
  out.strategy = pinned;
  out.because.push_back("The configuration pins " + std::string(word(pinned)) + ".");
  return out;
}

Result<Ability> askAbility(const config::Server& server) {
  Transport transport(server, -1);
  Request request;
  request.path = "/metadata";
  if (!server.bearerFile.empty() || !server.auth.client.empty()) {
    Result<std::string> token = server.bearerFile.empty()
                                    ? Tokens(server).current(std::chrono::system_clock::now())
                                    : readBearer(server.bearerFile);
    if (!token) return std::move(token).issues();
    request.bearer = *std::move(token);
  }
  transport.start(std::move(request));
  std::vector<Answer> answers;
  while (answers.empty()) answers = transport.wait(std::chrono::milliseconds(1'000));
  const Answer& answer = answers.front();
  if (answer.wire == Wire::Answered && answer.status == 200) return readAbility(answer.body);
  const Verdict verdict = judge(answer, 0, "");
  return Issue{Severity::Error,
               IssueType::Transient,
               "deliver",
               "",
               "The server does not show what it can do (GET /metadata). " + verdict.reason,
               "Check base, the network and the credentials."};
}

}  // namespace footbridge::deliver
