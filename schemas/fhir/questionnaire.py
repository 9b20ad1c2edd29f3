"""The assessment as a FHIR Questionnaire, made of the tables that the program reads.

A linkId is the path of a field of the input format, with points: legs.right.toe.pressure. What may stand beside a
value in that format (absent, note, finding, limit, grade, scale) is an item of its own below the same path.
"""

import re

from profiles import UCUM, narrative
from terminology import notice

SDC = "http://hl7.org/fhir/uv/sdc/StructureDefinition/"
UNIT_OPTION = "http://hl7.org/fhir/StructureDefinition/questionnaire-unitOption"
ABSENT_REASONS = "http://hl7.org/fhir/ValueSet/data-absent-reason"
CATEGORIES = "http://terminology.hl7.org/CodeSystem/observation-category"
SIDES = ("right", "left")
# UCUM: 1 mm[Hg] is 0.133322 kPa; both are taken by the input format.
KILOPASCAL = {"system": UCUM, "code": "kPa", "display": "kPa"}

# Reminders of docs/cautions.md, which names the source of each.
CAUTIONS = {
    "": "The form supports a decision and does not make one. It gives no order; local policy and the judgement of "
        "the clinician go first. What is left empty is not recorded and never read as normal.",
    "arms": "Before inflating: a dialysis fistula, a mastectomy on that side, or a wound under the cuff are reasons "
            "not to. Say so as 'not permitted' with a note.",
    "legs": "Before inflating: a recent bypass graft, an open wound or ulcer under the cuff, a clot in a deep vein "
            "(suspected or acute), cellulitis, severe pain, plaster or extensive dressings are reasons not to. Stop "
            "when it hurts. No signal is a finding, not a pressure of 0. This list is not complete.",
}

GROUPS = {
    "patient": "Patient", "performer": "Measured by", "organization": "For which organisation",
    "instruments": "Instrument", "conditions": "How it was measured", "history": "History", "arms": "Arms",
    "legs": "Legs", "right": "Right", "left": "Left", "pulses": "Pulses", "doppler": "Doppler signals",
    "ankle": "Ankle pressures", "toe": "Toe", "segments": "Segmental pressures", "exercise": "After exercise",
    "restPain": "Rest pain", "claudication": "Claudication", "wound": "Wound", "infection": "Infection",
    "stated": "Stated by the clinician", "systemic": "Systemic signs", "previous": "Earlier figures",
    "replaces": "Replaces a wrong assessment", "identifier": "Identifier",
}

# Fields of the head that a response has no element for: path, type, text, and more.
HEAD = [
    ("measuredAt", "dateTime", "When was it measured?", {"required": True}),
    ("revision", "integer", "Revision: 1, and one more for every change", {}),
    ("status", "choice", "State, if it is not signed off yet", {"words": ["preliminary", "final"]}),
    ("patient.family", "string", "Family name", {}),
    ("patient.given", "string", "Given name", {"repeats": True}),
    ("patient.birthDate", "date", "Date of birth", {}),
    ("patient.gender", "choice", "Gender", {"valueSet": "http://hl7.org/fhir/ValueSet/administrative-gender"}),
    ("performer.name", "string", "Who measured, if not the author of the form", {}),
    ("performer.identifier.system", "string", "System of the identifier", {}),
    ("performer.identifier.value", "string", "Identifier", {}),
    ("performer.role", "string", "Role", {}),
    ("organization.name", "string", "Name of the organisation", {}),
    ("organization.identifier.system", "string", "System of its identifier", {}),
    ("organization.identifier.value", "string", "Its identifier", {}),
]
TAIL = [
    ("instruments.kind", "choice", "Kind of instrument", {"list": "instrument"}),
    ("instruments.manufacturer", "string", "Manufacturer", {}),
    ("instruments.model", "string", "Model", {}),
    ("instruments.serial", "string", "Serial number", {}),
    ("instruments.calibratedOn", "date", "Last calibrated on", {}),
    ("replaces.system", "string", "System of the identifier of an assessment that was wrong as a whole", {}),
    ("replaces.value", "string", "Its identifier", {}),
    ("note", "text", "Note on the whole visit, or why it is withdrawn", {}),
]


def extension(url, kind, value):
    return {"url": url, "value" + kind: value}


class Form:
    def __init__(self, catalogue, version):
        self.catalogue = catalogue
        self.version = version
        self.systems = set()
        self.root = {"item": []}
        self.groups = {"": self.root}

    def group(self, path):
        if path not in self.groups:
            above, _, name = path.rpartition(".")
            parent = self.group(above)
            node = {"linkId": path, "text": GROUPS[name], "type": "group", "item": []}
            if path == "instruments":
                node["repeats"] = True
            if path == "organization":
                # Its name or its identifier: which of them is not for the form to say.
                node["required"] = True
            if path in CAUTIONS:
                node["item"].append(self.caution(path))
            parent["item"].append(node)
            self.groups[path] = node
        return self.groups[path]

    @staticmethod
    def caution(path):
        return {"linkId": f"{path}.caution" if path else "caution", "text": CAUTIONS[path], "type": "display"}

    def add(self, path, item, beside=""):
        """An item in its group; what stands beside a reading goes where that reading is."""
        self.group((beside or path).rpartition(".")[0])["item"].append({"linkId": path, **item})

    def codings(self, concept):
        out = []
        for system, code, display in self.catalogue.codings(concept):
            self.systems.add(system)
            out.append({"system": system, "code": code, **({"display": display} if display else {})})
        return out

    def options(self, words):
        """One option a word: our code where we have one, since a standard code may serve several words."""
        return [{"valueCoding": self.codings(word["concept"])[-1]} for word in self.catalogue.words[words]["words"]]

    def field(self, path, kind, text, more):
        item = {"text": text, "type": kind}
        if "words" in more:
            item["answerOption"] = [{"valueString": word} for word in more["words"]]
        if "list" in more:
            item["answerOption"] = self.options(more["list"])
        if "valueSet" in more:
            item["answerValueSet"] = more["valueSet"]
        item.update({key: more[key] for key in ("required", "repeats") if key in more})
        self.add(path, item)

    def reading(self, row, side):
        path = row["path"].replace("{side}", side)[1:].replace("/", ".")
        label = row["label"] + (f", {side}" if side else "")
        item = {"extension": self.extraction(row), "code": self.codings(row["concept"]) if row.get("concept") else [],
                "text": label + (f" ({row['unitLabel']})" if row.get("unitLabel") else ""),
                "type": "quantity" if row.get("unit") else "choice", "enableWhen": self.condition(path)}
        if row.get("unit"):
            coding = {"system": UCUM, "code": row["unit"], "display": row["unitLabel"] or row["unit"]}
            units = [coding, KILOPASCAL] if row["kind"] == "pressure" else [coding]
            item["extension"] = item["extension"] + [extension(UNIT_OPTION, "Coding", unit) for unit in units]
            item["repeats"] = row["kind"] == "pressure"
        else:
            item["answerOption"] = self.options(row["words"])
        self.add(path, {key: value for key, value in item.items() if value})
        self.besides(row, path, label)

    @staticmethod
    def condition(path):
        """Details that mean nothing unless the finding is there."""
        if not path.endswith((".restPain.days", ".claudication.distance")):
            return []
        return [{"question": path.rpartition(".")[0] + ".present", "operator": "exists", "answerBoolean": True}]

    @staticmethod
    def extraction(row):
        """By item.code alone an extractor would lose the side: only what has none may be extracted so."""
        if not row.get("concept") or row.get("side"):
            return []
        category = {"coding": [{"system": CATEGORIES, "code": row["category"]}]}
        return [extension(SDC + "sdc-questionnaire-observationExtract", "Boolean", True),
                extension(SDC + "sdc-questionnaire-observation-extract-category", "CodeableConcept", category)]

    def besides(self, row, path, label):
        """What may be said in place of a value, and beside it."""
        empty = [{"question": path, "operator": "exists", "answerBoolean": False}]
        def add(name, item):
            self.add(f"{path}.{name}", item, beside=path)

        if row["kind"] == "pulse":
            scales = [{"valueString": each["id"]} for each in self.catalogue.table("pulses")["rows"]]
            add("scale", {"text": label + ": scale of the grade", "type": "choice", "enableWhen": empty,
                          "answerOption": scales})
            add("grade", {
                "text": label + ": grade", "type": "integer",
                "enableWhen": [{"question": path + ".scale", "operator": "exists", "answerBoolean": True}]})
        if row["kind"] == "pressure" and row.get("side") and not row["path"].startswith("/previous"):
            findings = [{"valueCoding": self.codings(each)[-1]} for each in ("incompressible", "no-signal")]
            add("finding", {"text": label + ": finding in place of a pressure", "type": "choice",
                            "enableWhen": empty, "answerOption": findings})
            add("limit", {
                "text": label + ": flow went on at (mmHg)", "type": "integer",
                "enableWhen": [{"question": path + ".finding", "operator": "=", **{
                    "answerCoding": {key: findings[0]["valueCoding"][key] for key in ("system", "code")}}}]})
        add("absent", {"text": label + ": why there is none", "type": "choice", "enableWhen": empty,
                       "answerValueSet": ABSENT_REASONS})
        add("note", {"text": label + ": note", "type": "text"})

    def fill(self):
        self.root["item"].append(self.caution(""))
        for row in HEAD:
            self.field(*row)
        for part in ("conditions", "history", "systemic", "exercise", "arms", "legs", "previous"):
            self.part(part)
        for row in TAIL:
            self.field(*row)

    def part(self, part):
        rows = [row for row in self.catalogue.items if row["path"].split("/")[1] == part]
        if part == "previous":
            self.field("previous.measuredOn", "date", "Day of the earlier assessment", {})
        for side in SIDES if rows[0].get("side") else ("",):
            for row in rows:
                self.reading(row, side)
        if part == "conditions":
            self.field("conditions.room", "text", "Remarks on the room", {})

    def resource(self):
        self.fill()
        title = "Lower-limb arterial assessment"
        text = ("Readings of one visit of one patient, as Footbridge takes them. Whose they are and of which "
                "assessment stands in subject and identifier of the response, who filled it in in author. Our "
                "wording; not checked by a clinician.")
        return {
            "resourceType": "Questionnaire", "id": "assessment",
            "text": {"status": "generated", "div": narrative(title, text)},
            "url": self.catalogue.base + "/fhir/Questionnaire/assessment", "version": self.version,
            "name": "FootbridgeAssessment", "title": title, "status": "active", "experimental": False,
            "subjectType": ["Patient"], "publisher": "Footbridge", "description": text,
            **notice(self.systems), "code": self.codings("arterial-assessment"), "item": self.root["item"],
        }


def questionnaire(catalogue, version, date):
    out = Form(catalogue, version).resource()
    assert all(re.fullmatch(r"[A-Za-z0-9.]+", link) for link in links(out["item"]))
    return {**out, "date": date}


def links(items):
    for item in items:
        yield item["linkId"]
        yield from links(item.get("item", []))
