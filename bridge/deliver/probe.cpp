#include "deliver/probe.hpp"

#include <algorithm>
#include <array>

#include "core/text.hpp"
#include "deliver/judge.hpp"
#include "deliver/token.hpp"
#include "deliver/transport.hpp"
#include "json/value.hpp"

namespace footbridge::deliver {
namespace {

/// How long sending waits to learn what the server can do; our choice.
constexpr std::chrono::milliseconds kProbeTime{5'000};

constexpr std::size_t kVersion = 20;  ///< characters of a version that a server names

/// What a bundle of ours writes (Device only where an instrument has a serial number).
constexpr std::array<std::string_view, 4> kTypes{"Observation", "DiagnosticReport", "Provenance",
                                                 "Device"};

bool flag(const json::Value& of, std::string_view name) {
  const json::Value* value = of.member(name);
  return value != nullptr && value->asBool() != nullptr && *value->asBool();
}

/// True if an element's member has that text: lists(x, "interaction", "code", "create").
bool lists(const json::Value& of, std::string_view name, std::string_view member,
           std::string_view text) {
  const json::Array& all = of.list(name);
  return std::any_of(all.begin(), all.end(),
                     [&](const json::Value& each) { return each.text(member) == text; });
}

TypeAbility abilityOf(const json::Value& rest, std::string_view type) {
  TypeAbility out;
  out.type = type;
  for (const json::Value& each : rest.list("resource")) {
    if (each.text("type") != type) continue;
    out.create = lists(each, "interaction", "code", "create");
    out.update = lists(each, "interaction", "code", "update");
    out.conditionalCreate = flag(each, "conditionalCreate");
    out.conditionalUpdate = flag(each, "conditionalUpdate");
    out.updateCreate = flag(each, "updateCreate");
    out.byIdentifier = lists(each, "searchParam", "name", "identifier");
    // _tag is a parameter of every resource and seldom listed for each.
    if (type == "Provenance") out.byIdentifier = true;
  }
  return out;
}

/// The profiles that resources may keep to, by the statement: of all types, each once.
std::vector<std::string> profilesOf(const json::Value& rest) {
  std::vector<std::string> out;
  const auto take = [&out](std::string_view canonical) {
    const std::string plain(canonical.substr(0, canonical.find('|')));
    const bool known = std::find(out.begin(), out.end(), plain) != out.end();
    if (!plain.empty() && !known) out.push_back(plain);
  };
  for (const json::Value& each : rest.list("resource")) {
    take(each.text("profile"));
    for (const json::Value& profile : each.list("supportedProfile")) {
      if (profile.asString() != nullptr) take(*profile.asString());
    }
  }
  return out;
}

std::string without(const Ability& ability, bool TypeAbility::*member) {
  std::string out;
  for (const TypeAbility& each : ability.types) {
    if (!(each.*member)) out += (out.empty() ? "" : ", ") + each.type;
  }
  return out;
}

void warn(Choice& out, std::string sentence) {
  out.because.push_back(sentence);
  out.warnings.push_back(std::move(sentence));
}

/// R4 and R4B have the same bytes here, so that either server takes either.
bool speaks(const Ability& ability, std::string_view fhir) {
  const std::string_view version = ability.fhirVersion;
  if (fhir == "5.0") return version.starts_with("5.0");
  return version.starts_with("4.0") || version.starts_with("4.3");
}

void tellLacks(const Ability& ability, std::string_view fhir, Choice& out) {
  if (!speaks(ability, fhir)) {
    const std::string version = printable(shortened(ability.fhirVersion, kVersion));
    warn(out,
         (version.empty() ? "It does not say which FHIR it speaks" : "It speaks FHIR " + version) +
             "; bundles are FHIR " + (fhir == "5.0" ? "5.0 (R5)." : "4.0.1 (R4)."));
    out.possible = false;
  }
  if (!ability.json) warn(out, "It does not list JSON among its formats.");
  const std::string missing = without(ability, &TypeAbility::create);
  if (!missing.empty()) warn(out, "It does not say that it creates: " + missing + ".");
  const std::string blind = without(ability, &TypeAbility::byIdentifier);
  if (!blind.empty()) {
    warn(out, "It does not list search by identifier for: " + blind +
                  ". Conditions on it may then match everything or nothing.");
  }
}

/// The types for which the server does not say that it can do this; "" if it does for all.
std::string lacking(const Ability& ability, Need need) {
  switch (need) {
    case Need::Transaction:
      return ability.transaction ? "" : "at all";
    case Need::Batch:
      return ability.batch ? "" : "at all";
    case Need::Create:
      return without(ability, &TypeAbility::create);
    case Need::Update:
      return without(ability, &TypeAbility::update);
    case Need::ConditionalCreate:
      return without(ability, &TypeAbility::conditionalCreate);
    case Need::ConditionalUpdate:
      return without(ability, &TypeAbility::conditionalUpdate);
    case Need::UpdateCreate:
      return without(ability, &TypeAbility::updateCreate);
    default:
      return without(ability, &TypeAbility::byIdentifier);
  }
}

/// An instrument is written only sometimes, so that Device alone decides nothing.
bool decides(const std::string& missing) { return !missing.empty() && missing != "Device"; }

Fit fitOf(const Ability& ability, const StrategyRow& row) {
  Fit out{row.strategy, true, ""};
  for (const Need need : row.needs) {
    const std::string missing = lacking(ability, need);
    if (!decides(missing)) continue;
    out.fits = false;
    out.because += out.because.empty() ? "The statement lists no " : ", no ";
    out.because += word(need);
    if (missing != "at all") out.because += " (" + missing + ")";
  }
  out.because = out.fits ? std::string(row.promise) : out.because + ".";
  return out;
}

void chooseFreely(const Ability& ability, Choice& out) {
  const auto best =
      std::find_if(out.fits.begin(), out.fits.end(), [](const Fit& each) { return each.fits; });
  if (best == out.fits.end()) {
    out.possible = false;
    warn(out,
         "It fits none of the ways in which a visit can be stored without being made twice. If its "
         "statement is incomplete, pin a strategy after a trial on a test server.");
    return;
  }
  out.strategy = best->strategy;
  out.because.push_back("Chosen is " + std::string(word(out.strategy)) + ". " + best->because);
  const bool sendsConditions = !readsSingly(out.strategy);
  if (sendsConditions && decides(without(ability, &TypeAbility::conditionalUpdate))) {
    warn(out,
         "It does not say that it takes conditional updates, so that corrections may be refused.");
  }
  if (inSteps(out.strategy) && !ability.patientByIdentifier) {
    warn(out,
         "It does not list search by identifier for Patient, so that the patient may not be found: "
         "then set patient = \"logical\".");
  }
}

}  // namespace

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
  for (const json::Value& format : body->list("format")) {
    const std::string* name = format.asString();
    out.json = out.json || (name != nullptr && name->find("json") != std::string::npos);
  }
  const json::Array& rests = body->list("rest");
  const json::Value none;
  const json::Value& rest = rests.empty() ? none : rests.front();
  out.transaction = lists(rest, "interaction", "code", "transaction");
  out.batch = lists(rest, "interaction", "code", "batch");
  out.profiles = profilesOf(rest);
  for (const std::string_view type : kTypes) out.types.push_back(abilityOf(rest, type));
  out.patientByIdentifier = abilityOf(rest, "Patient").byIdentifier;
  return out;
}

bool lists(const Ability& ability, std::string_view need) {
  for (std::uint8_t i = 0; i <= static_cast<std::uint8_t>(Need::SearchByIdentifier); ++i) {
    const auto each = static_cast<Need>(i);
    if (word(each) == need) return !decides(lacking(ability, each));
  }
  return false;
}

Choice choose(const Ability& ability, config::Strategy pinned, std::string_view fhir) {
  Choice out;
  tellLacks(ability, fhir, out);
  for (const StrategyRow& row : strategyTable()) out.fits.push_back(fitOf(ability, row));
  if (pinned == config::Strategy::Auto) {
    chooseFreely(ability, out);
    return out;
  }
  out.strategy = pinned;
  out.because.push_back("The configuration pins " + std::string(word(pinned)) + ".");
  return out;
}

namespace {

Answer askMetadata(const config::Server& server, std::string bearer) {
  Request request;
  request.path = "/metadata";
  request.bearer = std::move(bearer);
  return exchange(server, std::move(request));
}

bool wantsToken(const config::Server& server, const Answer& answer) {
  const bool refused = answer.status == 401 || answer.status == 403;
  return refused && (!server.bearerFile.empty() || !server.auth.client.empty());
}

}  // namespace

// What a server can do is public on most, so that no token is spent on asking.
Result<Ability> askAbility(const config::Server& server) {
  Answer answer = askMetadata(server, "");
  if (wantsToken(server, answer)) {
    Result<std::string> token = server.bearerFile.empty()
                                    ? Tokens(server).current(std::chrono::system_clock::now())
                                    : readBearer(server.bearerFile);
    if (!token) return std::move(token).issues();
    answer = askMetadata(server, *std::move(token));
  }
  if (answer.wire == Wire::Answered && answer.status == 200) return readAbility(answer.body);
  const Verdict verdict = judge(ofQuestion(std::move(answer)), 0, "");
  return Issue{Severity::Error,
               IssueType::Transient,
               "deliver",
               "",
               "The server does not show what it can do (GET /metadata). " + verdict.reason,
               "Check base, the network and the credentials."};
}

Choice chooseNow(const config::Server& server, std::string_view fhir) {
  Choice out;
  if (server.strategy != config::Strategy::Auto) {
    out.strategy = server.strategy;
    return out;
  }
  config::Server asked = server;
  asked.totalTime = std::min<std::chrono::milliseconds>(server.totalTime, kProbeTime);
  const Result<Ability> ability = askAbility(asked);
  if (ability) return choose(*ability, server.strategy, fhir);
  out.because.push_back(ability.issues().front().text);
  return out;
}

std::string impossible(const Choice& choice) {
  std::string out = "Nothing is sent, since by what the server says of itself it cannot be:";
  for (const std::string& each : choice.warnings) out += " " + each;
  return out + " `footbridge probe` tells more. A strategy that is pinned is used without asking.";
}

}  // namespace footbridge::deliver
