"""One StructureDefinition for each kind of resource in a bundle."""

import snapshot as snap

UCUM = "http://unitsofmeasure.org"
CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"
ABSENT = "http://hl7.org/fhir/ValueSet/data-absent-reason"

# key -> (sentence, FHIRPath). What no cardinality, pattern or binding can say.
INVARIANTS = {
    "fb-answer": ("A result is a value or the reason why there is none, never both and never neither",
                  "value.exists() xor dataAbsentReason.exists()"),
    "fb-why": ("The reason for an absent result is said in words, too",
               "dataAbsentReason.empty() or dataAbsentReason.text.exists() or dataAbsentReason.coding.display.exists()"),
    "fb-sources": ("A figure that was derived names the readings it came from",
                   "value.empty() or derivedFrom.exists()"),
    "fb-exact": ("An index is never a bound: it has no comparator", "value.ofType(Quantity).comparator.empty()"),
    "fb-positive": ("The figure is not below zero",
                    "value.ofType(Quantity).empty() or value.ofType(Quantity).value >= 0"),
    "fb-spoken": ("The code has a text for people", "code.text.exists()"),
    "fb-parts": ("Each criterion is answered or says why not",
                 "component.all(value.exists() xor dataAbsentReason.exists())"),
    "fb-tag": ("The tag by which a second creation is refused is there", "meta.tag.exists()"),
    "fb-agents": ("Who measured, for whom, and which software assembled it are named",
                  "agent.type.coding.where(code = 'performer').exists() and "
                  "agent.type.coding.where(code = 'custodian').exists() and "
                  "agent.type.coding.where(code = 'assembler').exists()"),
    "fb-digest": ("The source is named with its digest", "entity.what.display.matches('SHA-256 [0-9a-f]{64}')"),
}


class Profiles:
    def __init__(self, catalogue, bases, version, value_sets):
        self.catalogue = catalogue
        self.bases = bases
        self.version = version
        self.value_sets = value_sets

    def url(self, name):
        return f"{self.catalogue.base}/fhir/StructureDefinition/{name}"

    def all(self):
        out = [self.observation(kind) for kind in self.catalogue.kinds]
        return out + [self.report(), self.provenance(), self.device(), self.patient()]

    def invariants(self, url, *keys):
        return [{"key": key, "severity": "error", "human": INVARIANTS[key][0], "expression": INVARIANTS[key][1],
                 "source": url} for key in keys]

    def binding(self, value_set, strength="required"):
        return {"strength": strength, "valueSet": self.value_sets.url(value_set)}

    def concept_pattern(self, system, code):
        return {"coding": [{"system": system, "code": code}]}

    def own_code(self, code):
        return {"patternCodeableConcept": self.concept_pattern(self.catalogue.system(), code)}

    def make(self, base_name, name, title, description, constraints):
        base = self.bases[base_name]
        url = self.url(name)
        return {
            "resourceType": "StructureDefinition", "id": name,
            "text": {"status": "generated", "div": narrative(title, description)},
            "url": url, "version": self.version, "name": pascal(name), "title": title, "status": "active",
            "experimental": False, "publisher": "Footbridge", "description": description, "fhirVersion": "4.0.1",
            "kind": "resource", "abstract": False, "type": base_name, "baseDefinition": base["url"],
            "derivation": "constraint",
            "snapshot": {"element": snap.snapshot(base, url, constraints)},
            "differential": {"element": snap.differential(base, constraints)},
        }

    def observation(self, kind):
        constraints = self._common(kind)
        self._value(kind, constraints)
        self._where(kind, constraints)
        self._whence(kind, constraints)
        return self.make("Observation", kind.id, kind.label, kind.definition, constraints)

    def _common(self, kind):
        keys = ["fb-spoken"]
        if kind.role in ("reading", "index", "grade", "flag"):
            keys += ["fb-answer", "fb-why"]
        if kind.role in ("index", "grade"):
            keys.append("fb-sources")
        if kind.role == "index":
            keys.append("fb-exact")
        if kind.role == "criteria":
            keys.append("fb-parts")
        if kind.units and not kind.signed:
            keys.append("fb-positive")
        root = {"constraint": self.invariants(self.url(kind.id), *keys)}
        return {
            "Observation": root,
            "Observation.text": {"min": 1},
            "Observation.identifier": {"min": 1},
            "Observation.status": {"mustSupport": True},
            "Observation.category": {"min": 1, "mustSupport": True,
                                     "patternCodeableConcept": self.concept_pattern(CATEGORY, kind.category)},
            "Observation.code": {"mustSupport": True, **self.own_code(kind.id)},
            "Observation.subject": {"min": 1, "mustSupport": True},
            "Observation.effective[x]": {"min": 1, "mustSupport": True, "types": ["dateTime"]},
            "Observation.issued": {"min": 1},
            "Observation.performer": {"min": 1, "mustSupport": True},
        }

    def _value(self, kind, constraints):
        if kind.role in ("panel", "arm-panel", "criteria"):
            constraints["Observation.value[x]"] = {"max": "0"}
            constraints["Observation.dataAbsentReason"] = {"max": "0"}
            return
        types = (["Quantity"] if kind.units else []) + (["CodeableConcept"] if kind.answers else [])
        quantity = {"patternQuantity": {"system": UCUM, "code": kind.units[0]}} if kind.units else {}
        coded = {}
        if kind.answers:
            coded = {"binding": self.binding(kind.answers, "preferred" if kind.loose else "required")}
        rules = {"mustSupport": True, "types": types}
        if len(types) == 1:
            rules.update(quantity or coded)
        else:
            rules["slices"] = {
                "valueQuantity": {"max": "1", "mustSupport": True, "types": ["Quantity"], **quantity},
                "valueCodeableConcept": {"max": "1", "mustSupport": True, "types": ["CodeableConcept"], **coded}}
        if kind.loose:
            constraints["Observation"]["constraint"].append(self._loose(kind))
        constraints["Observation.value[x]"] = rules
        constraints["Observation.dataAbsentReason"] = {
            "mustSupport": True, "binding": {"strength": "required", "valueSet": ABSENT}}

    def _loose(self, kind):
        """A grade of a scale without published meaning leaves as text; a code of ours has to be an answer."""
        system = self.catalogue.system()
        codes = [code for concept in self.catalogue.answer_sets[kind.answers][1]
                 for s, code, _ in self.catalogue.codings(concept) if s == system]
        wanted = " or ".join(f"code = '{code}'" for code in codes)
        return {"key": "fb-pulse", "severity": "error", "source": self.url(kind.id),
                "human": "A coded pulse is one of the answers; a grade of a scale may stand as text alone",
                "expression": "value.ofType(CodeableConcept).coding.all("
                              f"system = '{system}' and ({wanted}))"}

    def _where(self, kind, constraints):
        if kind.sites:
            rules = {"mustSupport": True, "binding": self.binding(self.value_sets.sites(kind.sites))}
            if kind.sided:
                rules["min"] = 1
            constraints["Observation.bodySite"] = rules
        else:
            constraints["Observation.bodySite"] = {"max": "0"}
        if kind.method:
            system, code, _ = self.catalogue.codings(kind.method)[0]
            constraints["Observation.method"] = {
                "min": 1, "patternCodeableConcept": self.concept_pattern(system, code)}
        if kind.role == "grade":
            constraints["Observation.method"] = {"min": 1, "short": "The rule set that gave the class"}

    def _whence(self, kind, constraints):
        if kind.role == "panel":
            constraints["Observation.hasMember"] = {"min": 1, "mustSupport": True}
        else:
            constraints["Observation.hasMember"] = {"max": "0"}
        if kind.role not in ("reading", "arm-panel"):
            constraints["Observation.derivedFrom"] = {"mustSupport": True}
        if kind.role == "criteria":
            constraints["Observation.component"] = {"min": 1, "mustSupport": True}
            constraints["Observation.component.code"] = {"binding": self.binding(kind.criteria)}
            constraints["Observation.component.value[x]"] = {
                "types": ["CodeableConcept"], "binding": self.binding("criterion-outcomes")}
        elif kind.role == "arm-panel":
            constraints["Observation.component"] = {"min": 2, "max": "2", "mustSupport": True}
            constraints["Observation.component.code"] = {"binding": self.binding("pressure-parts")}
            constraints["Observation.component.value[x]"] = {
                "min": 1, "types": ["Quantity"], "patternQuantity": {"system": UCUM, "code": "mm[Hg]"}}
        else:
            constraints["Observation.component"] = {"max": "0"}

    def report(self):
        row = self.catalogue.concepts["arterial-assessment"]
        nursing = self.catalogue.codings("report-nursing")[0]
        return self.make("DiagnosticReport", row["id"], row["label"], row["definition"], {
            "DiagnosticReport.text": {"min": 1},
            "DiagnosticReport.identifier": {"min": 1},
            "DiagnosticReport.status": {"mustSupport": True},
            "DiagnosticReport.category": {
                "min": 1, "patternCodeableConcept": self.concept_pattern(nursing[0], nursing[1])},
            "DiagnosticReport.code": {"mustSupport": True, **self.own_code(row["id"])},
            "DiagnosticReport.subject": {"min": 1, "mustSupport": True},
            "DiagnosticReport.effective[x]": {"min": 1, "mustSupport": True, "types": ["dateTime"]},
            "DiagnosticReport.issued": {"min": 1},
            "DiagnosticReport.performer": {"min": 1, "mustSupport": True},
            "DiagnosticReport.result": {"min": 1, "mustSupport": True},
            "DiagnosticReport.conclusion": {"min": 1, "mustSupport": True},
        })

    def provenance(self):
        url = self.url("provenance")
        activity = self.catalogue.codings("activity-create")[0]
        return self.make("Provenance", "provenance", "Provenance of an assessment",
                         "Who measured, for whom, which software and tables assembled it, and the digest of what "
                         "came in.", {
            "Provenance": {"constraint": self.invariants(url, "fb-tag", "fb-agents", "fb-digest")},
            "Provenance.text": {"min": 1},
            "Provenance.occurred[x]": {"min": 1, "types": ["dateTime"]},
            "Provenance.activity": {
                "min": 1, "patternCodeableConcept": self.concept_pattern(activity[0], activity[1])},
            "Provenance.agent": {"min": 3},
            "Provenance.agent.type": {"min": 1, "binding": self.binding("agents")},
            "Provenance.entity": {"min": 1, "max": "1"},
        })

    def device(self):
        return self.make("Device", "instrument", "Instrument",
                         "An instrument with a serial number, with which readings were taken.", {
            "Device.text": {"min": 1},
            "Device.identifier": {"min": 1},
            "Device.serialNumber": {"min": 1, "mustSupport": True},
            "Device.deviceName": {"min": 1},
            "Device.type": {"min": 1, "binding": self.binding("instruments")},
        })

    def patient(self):
        return self.make("Patient", "patient", "Patient of an assessment",
                         "Written only where a deployment chose that the bridge may create patients.", {
            "Patient.text": {"min": 1},
            "Patient.identifier": {"min": 1, "mustSupport": True},
        })


def pascal(name):
    return "Footbridge" + "".join(part.capitalize() for part in name.split("-"))


def narrative(title, text):
    def escape(value):
        return value.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return (f'<div xmlns="http://www.w3.org/1999/xhtml"><p><b>{escape(title)}</b></p>'
            f"<p>{escape(text)}</p></div>")
