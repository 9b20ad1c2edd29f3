"""What Footbridge emits, read from mapping/: one Kind for every resource with a code of its own.

Nothing here is a fact of its own: concepts, units, sites, words and outcomes come from the tables that the
program is built from, so a profile cannot differ from what is written.
"""

import json
from dataclasses import dataclass, field
from pathlib import Path


@dataclass
class Kind:
    """One kind of Observation: its code and what its value may be."""

    id: str
    label: str
    definition: str
    role: str  # reading, index, grade, criteria, flag, panel, arm-panel
    category: str = "exam"
    units: list = field(default_factory=list)  # UCUM codes; empty: no quantity
    answers: str = ""  # id of the value set of coded values; "": none
    loose: bool = False  # a text alone may stand in place of an answer
    sites: list = field(default_factory=list)  # concept ids; empty: no body site
    method: str = ""  # concept id; "": not fixed
    signed: bool = False  # the quantity may be below zero
    criteria: str = ""  # id of the value set of component codes
    sided: bool = True


class Catalogue:
    """The tables of one directory."""

    def __init__(self, directory):
        self.directory = Path(directory)
        concepts = self.table("concepts")
        self.base = concepts["canonicalBase"]
        self.concepts = {row["id"]: row for row in concepts["rows"]}
        self.words = {row["id"]: row for row in self.table("words")["rows"]}
        self.items = self.table("items")["rows"]
        self.indices = self.table("indices")["rows"]
        self.criteria = self._criteria()
        self.flags = [row for row in self.table("rules")["rows"] if row["stage"] == "flag"]
        self.answer_sets = {}  # id -> (title, [concept ids])
        self.kinds = self._kinds()

    def table(self, name):
        return json.loads((self.directory / f"{name}.json").read_text(encoding="utf-8"))

    def system(self):
        return self.base + "/fhir/CodeSystem/footbridge"

    def _criteria(self):
        """Scheme -> [(code, name)]: published definitions and figures that are coded in components."""
        out = {}
        for name, scheme in (("clti", "clti-criterion"), ("rutherford", "rutherford-criterion")):
            prefix = "clti-definition-" if name == "clti" else ""
            for row in self.table(name)["rows"]:
                out.setdefault(scheme, []).append((prefix + row["id"], row["name"]))
        for row in self.table("criteria")["rows"]:
            out.setdefault(row["scheme"], []).append((row["id"], row["name"]))
        return out

    def _kinds(self):
        kinds = [self._reading(row) for row in self.items if row.get("concept")]
        for row in self.indices:
            kinds += self._index(row)
        kinds += self._grades()
        for scheme in self.criteria:
            kinds.append(self._kind(scheme, "criteria", criteria=f"criteria-{scheme}", sites=LEG))
        kinds.append(self._kind("reliability-flag", "flag", answers="flags", sites=LEG, sided=False))
        kinds.append(self._kind("leg-panel", "panel", sites=LEG))
        arm = next(row for row in self.items if row["id"] == "arm.systolic")
        kinds.append(self._kind("arm-pressure-panel", "arm-panel", category="vital-signs",
                                sites=list(arm["site"].values())))
        self.answer_sets["criterion-outcomes"] = (
            "Whether a published criterion is met", [c for c in self.concepts if c.startswith("criterion-")])
        self.answer_sets["answers-pressure"] = (
            "Findings in place of a pressure", ["incompressible", "no-signal"])
        return sorted(kinds, key=lambda kind: kind.id)

    def _kind(self, concept, role, **more):
        row = self.concepts[concept]
        return Kind(concept, row["label"], row["definition"], role, **more)

    def _reading(self, row):
        kind = self._kind(row["concept"], "reading", category=row["category"], sided=bool(row.get("side")))
        if row.get("unit"):
            kind.units = [row["unit"]]
        if row["kind"] == "pressure" and row.get("side"):
            kind.answers = "answers-pressure"
        if row.get("words"):
            kind.answers = "answers-" + row["words"]
            kind.loose = row["kind"] == "pulse"
            words = self.words[row["words"]]["words"]
            self.answer_sets[kind.answers] = (
                f"Answers: {row['words'].replace('-', ' ')}", [word["concept"] for word in words])
        if row.get("site"):
            kind.sites = self.toes() if row["id"] == "toe.pressure" else list(row["site"].values())
        kind.method = row.get("method", "")
        return kind

    def _index(self, row):
        """An index whose standard code holds the side is one kind a side."""
        by_side = row.get("conceptBySide") or {"": row["concept"]}
        out = []
        for side, concept in by_side.items():
            sites = [v for k, v in row.get("site", {}).items() if side in ("", k)]
            if row["id"] == "tbi":
                sites = [site for site in self.toes() if site.endswith(side)]
            signed = row["unit"] != "1" or row["id"].startswith("change.")
            out.append(self._kind(concept, "index", units=[row["unit"]], sites=sites, signed=signed,
                                  sided=bool(sites)))
        return out

    def toes(self):
        return [c for c in self.concepts if c.startswith("site-") and "toe-" in c]

    def _grades(self):
        """The classes of each scheme, as the tables of the rules name them."""
        outcomes = {"abi-band": self._bands("rule_sets", "abi"), "tbi-band": self._bands("rule_sets", "tbi"),
                    "compression-band": self._bands("compression", "abi"),
                    "waveform-class": self._unique(r.get("outcome") for r in self.table("waveforms")["rows"])}
        prefixes = {"fontaine": "fontaine-", "rutherford": "rutherford-", "wifi-wound": "wifi-wound-",
                    "wifi-ischaemia": "wifi-ischaemia-", "wifi-infection": "wifi-infection-",
                    "wifi-stage": "wifi-stage-", "wifi-amputation-risk": "wifi-risk-",
                    "wifi-revascularisation-benefit": "wifi-benefit-"}
        for scheme, prefix in prefixes.items():
            outcomes[scheme] = [c for c in self.concepts if c.startswith(prefix) and not c.endswith("-criterion")]
        kinds = []
        for scheme, found in outcomes.items():
            label = self.concepts[scheme]["label"]
            self.answer_sets[f"classes-{scheme}"] = (f"Classes: {label}", found)
            sites = LEG
            if scheme == "waveform-class":
                sites = self._unique(s for row in self.items if row["id"].startswith("doppler.")
                                     for s in row["site"].values())
            kinds.append(self._kind(scheme, "grade", answers=f"classes-{scheme}", sites=sites))
        return kinds

    def _bands(self, table, index):
        rows = self.table(table)["rows"]
        return self._unique(band.get("outcome") for row in rows for band in row.get(index, []))

    @staticmethod
    def _unique(values):
        return list(dict.fromkeys(value for value in values if value))

    def codings(self, concept):
        """(system, code, display) of all that leaves for a concept, as the program writes it."""
        row = self.concepts[concept]
        out = [(c["system"], c["code"], c.get("display", ""))
               for c in row["codings"] if c["status"] == "verified"]
        if row["local"]:
            out.append((self.system(), row["id"], row["label"]))
        return out


LEG = ["site-lower-limb-right", "site-lower-limb-left"]
