#include "outbox/sealing.hpp"

#include "json/writer.hpp"
#include "outbox/outbox.hpp"
#include "outbox/store.hpp"

namespace footbridge::outbox {
namespace {

/// Parts with a byte between that none of them can hold.
std::string joined(std::initializer_list<std::string_view> parts) {
  std::string out;
  for (const std::string_view part : parts) (out += part) += '\0';
  return out;
}

std::string labelOf(const Entry& entry) {
  json::Writer out;
  out.beginObject().member("system", entry.system).member("value", entry.value);
  const Person& person = entry.person;
  out.name("person").beginObject().name("check").number(static_cast<long long>(person.check));
  out.member("system", person.system).member("value", person.value).member("query", person.query);
  out.member("birthDate", person.birthDate).member("family", person.family).endObject();
  out.endObject();
  return std::string(out.text());
}

/// Another for each revision, too.
std::string keyOf(const Entry& entry, const Sealer& sealer) {
  return sealer.keyedHash(joined(
      {"key", entry.destination, entry.system, entry.value, std::to_string(entry.revision)}));
}

}  // namespace

std::string visitOf(std::string_view destination, std::string_view system, std::string_view value,
                    const Sealer& sealer) {
  return sealer.keyedHash(joined({"visit", destination, system, value}));
}

Sealed sealed(const Entry& entry, const Sealer& sealer, Packer& packer) {
  Sealed out;
  out.key = keyOf(entry, sealer);
  out.visit = visitOf(entry.destination, entry.system, entry.value, sealer);
  out.lane = entry.lane.empty()
                 ? sealer.keyedHash(joined({"lane", entry.destination, entry.patient}))
                 : entry.lane;
  out.digest = sealer.keyedHash(joined({"digest", entry.sourceDigest}));
  out.label = packer.pack(labelOf(entry), "label/" + out.key);
  out.body = packer.pack(entry.bundle, "body/" + out.key);
  return out;
}

EntrySealer::EntrySealer(const Outbox& outbox)
    : sealer_(outbox.state_->sealer), packer_(std::make_unique<Packer>(sealer_)) {}
EntrySealer::~EntrySealer() = default;

void EntrySealer::seal(Entry& entry) { entry.sealed = sealed(entry, sealer_, *packer_); }

}  // namespace footbridge::outbox
