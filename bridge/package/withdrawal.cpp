#include "package/withdrawal.hpp"

#include "json/writer.hpp"
#include "package/markup.hpp"
#include "package/prepared.hpp"
#include "package/retract.hpp"
#include "package/sheet.hpp"

namespace footbridge::package {
namespace {

std::string nullified() { return activity("NULLIFY", "nullify"); }

void appendAgent(std::string& out, std::string_view code, std::string_view display,
                 std::string_view type, const Party& who) {
  out += R"({"type":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/)";
  ((out += R"(provenance-participant-type","code":")") += code) += R"(","display":")";
  (out += display) += R"("}]},"who":)";
  appendParty(out, type, who);
  out += '}';
}

void appendEntity(std::string& out, const Identifier& what, const std::string& display) {
  out += R"({"role":"revision","what":{"identifier":)";
  appendIdentifier(out, what);
  out += ",\"display\":";
  json::appendQuoted(out, display);
  out += "}}";
}

void appendEntities(std::string& out, const Withdrawal& w) {
  out += ",\"entity\":[";
  appendEntity(out, w.assessment,
               "Assessment up to revision " + std::to_string(w.revision - 1) + ", withdrawn");
  out += ']';
}

std::string spokenReason(const Withdrawal& w) {
  std::string out = "Withdrawn by " + w.by.name + ": " + w.because;
  if (w.replacement) out += " Replaced by assessment " + w.replacement->value + ".";
  return out;
}

void appendProvenance(std::string& out, const Withdrawal& w, const Retractions& what,
                      const Tables& tables, const Uuid& uuid) {
  const std::string tag = identifierSystem(tables, "provenance");
  ((out += "{\"fullUrl\":\"urn:uuid:") += view(uuid)) += R"(","resource":{"resourceType":)";
  (out += R"("Provenance","meta":{"tag":[{"system":")") += tag;
  ((out += R"(","code":")") += view(uuid)) += R"("}]},"text":{"status":"generated","div":")";
  out += R"(<div xmlns=\"http://www.w3.org/1999/xhtml\"><p>)";
  json::appendXhtml(out, spokenReason(w));
  out += "</p></div>\"},\"target\":[";
  for (const std::string& target : what.targets) {
    ((out += out.ends_with('[') ? "{\"reference\":\"" : ",{\"reference\":\"") += target) += "\"}";
  }
  ((out += "],\"recorded\":\"") += text(w.at)) += "\",\"reason\":[{\"text\":";
  json::appendQuoted(out, spokenReason(w));
  ((out += "}],") += nullified()) += ",\"agent\":[";
  appendAgent(out, "author", "Author", "Practitioner", w.by);
  out += ',';
  appendAgent(
      out, "assembler", "Assembler", "Device",
      {Identifier{identifierSystem(tables, "software"), "footbridge"}, "Footbridge " + w.version});
  out += ']';
  appendEntities(out, w);
  out += R"(},"request":{"method":"POST","url":"Provenance","ifNoneExist":"_tag=)";
  ((out += searchValue(tag)) += "%7C") += view(uuid);
  out += "\"}}";
}

}  // namespace

Result<std::string> withdrawalBundle(const Withdrawal& withdrawal, std::string_view earlier,
                                     const Tables& tables) {
  const Result<Retractions> what = retractions(earlier, {});
  if (!what) return what.issues();
  UuidMaker names(octets(UuidMaker(kUrlNamespace).make(tables.canonicalBase + "/id")));
  const Identifier& id = withdrawal.assessment;
  const Uuid visit = names.make("assessment/" + id.system + "|" + id.value);
  const Uuid uuid =
      names.make(std::string(view(visit)) + "/provenance/" + std::to_string(withdrawal.revision));
  std::string out = R"({"resourceType":"Bundle","type":"transaction","entry":[)";
  out += std::string_view(what->entries).substr(what->entries.empty() ? 0 : 1);
  if (!what->entries.empty()) out += ',';
  appendProvenance(out, withdrawal, *what, tables, uuid);
  return out + "]}";
}

bool isWithdrawal(std::string_view bundle) {
  return bundle.find(nullified()) != std::string_view::npos;
}

}  // namespace footbridge::package
