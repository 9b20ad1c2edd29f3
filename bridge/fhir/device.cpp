#include "fhir/device.hpp"

#include "fhir/head.hpp"

namespace footbridge::fhir {
namespace {

using json::Object;
using json::Value;

void add(Object& out, std::string_view name, std::string_view text) {
  if (!text.empty()) out.emplace_back(name, Value(std::string(text)));
}

std::string kindOf(const Value* device, const ItemRow& row, const Codes& codes) {
  const Value* type = device == nullptr ? nullptr : device->member("type");
  std::string coded = codes.word(type, "instrument");
  return coded.empty() ? row.instrument : coded;
}

/// The model's name, else any.
std::string_view modelOf(const Value& device) {
  std::string_view out = device.text("modelNumber");
  for (const Value& name : device.list("deviceName")) {
    if (out.empty() || name.text("type") == "model-name") out = name.text("name");
  }
  return out;
}

}  // namespace

void putInstrument(Draft& draft, const Entry& entry, const Entries& entries, const ItemRow& row,
                   const Codes& codes) {
  const Value* reference = entry.resource->member("device");
  if (reference == nullptr || row.instrument.empty()) return;
  const Value* device = Scope{*entry.resource, &entries, entry.container}.resolve(*reference);
  Object out;
  const std::string kind = kindOf(device, row, codes);
  add(out, "kind", kind);
  if (device != nullptr) {
    add(out, "manufacturer", device->text("manufacturer"));
    const std::string_view model = modelOf(*device);
    add(out, "model", model == kind ? "" : model);
    add(out, "serial", device->text("serialNumber"));
  } else if (reference->text("display") != kind) {
    add(out, "model", reference->text("display"));
  }
  draft.appendOnce("/instruments", Value(std::move(out)), entry.place + " device");
}

}  // namespace footbridge::fhir
