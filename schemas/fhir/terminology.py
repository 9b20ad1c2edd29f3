"""ValueSets of everything that is emitted, and ConceptMaps from our codes to the standard ones."""

from profiles import UCUM, narrative, pascal

LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
SNOMED_NOTICE = ("This value set includes content from SNOMED CT, which is copyright of the International Health "
                 "Terminology Standards Development Organisation (IHTSDO). Use needs a SNOMED CT licence.")
LOINC_NOTICE = ("This material contains content from LOINC (http://loinc.org). LOINC is copyright Regenstrief "
                "Institute, Inc. and the LOINC Committee and is available at no cost under the license at "
                "http://loinc.org/license.")


def notice(systems):
    texts = [text for system, text in ((SNOMED, SNOMED_NOTICE), (LOINC, LOINC_NOTICE)) if system in systems]
    return {"copyright": " ".join(texts)} if texts else {}


class ValueSets:
    def __init__(self, catalogue, version):
        self.catalogue = catalogue
        self.version = version
        self.sets = {}  # id -> (title, [(system, code, display)])
        self._fill()

    def url(self, name):
        assert name in self.sets, name
        return f"{self.catalogue.base}/fhir/ValueSet/{name}"

    def _add(self, name, title, codings):
        self.sets[name] = (title, list(dict.fromkeys(codings)))

    def _of(self, concepts):
        return [coding for concept in concepts for coding in self.catalogue.codings(concept)]

    def _fill(self):
        cat = self.catalogue
        for name, (title, concepts) in cat.answer_sets.items():
            self._add(name, title, self._of(concepts))
        for scheme, rows in cat.criteria.items():
            self._add(f"criteria-{scheme}", f"Criteria: {cat.concepts[scheme]['label']}",
                      [(cat.system(), code, name) for code, name in rows])
        self._add("flags", "Remarks on reliability", [(cat.system(), row["id"], row["id"]) for row in cat.flags])
        self._add("observations", "What an observation is of", self._of(kind.id for kind in cat.kinds))
        self._add("reports", "Reports", self._of(["arterial-assessment"]))
        self._add("body-sites", "Body sites", self._of(c for c in cat.concepts if c.startswith("site-")))
        self._add("methods", "Methods", self._of(c for c in cat.concepts if c.startswith("method-")))
        self._add("instruments", "Instruments", self._of(c for c in cat.concepts if c.startswith("instrument-")))
        self._add("agents", "Parts played in a provenance", self._of(c for c in cat.concepts if c.startswith("agent-")))
        self._add("structure", "Categories, activities and interpretations",
                  self._of(c for c in cat.concepts if c.startswith(("category-", "activity-", "report-", "scale-"))) +
                  self._of(["incompressible"]))
        self._add("pressure-parts", "Parts of an arm blood pressure", self._of(["part-systolic", "part-diastolic"]))
        self._add("absence", "Reasons for the absence of a result",
                  self._of(c for c in cat.concepts if c.startswith("absence-")))
        units = sorted({row["unit"] for row in cat.items + cat.indices if row.get("unit")})
        self._add("units", "Units", [(UCUM, unit, "") for unit in units])
        for kind in cat.kinds:
            if kind.sites:
                self.sites(kind.sites)

    def sites(self, concepts):
        """The value set of these sites, named after the parts that they share."""
        sides = {concept.rsplit("-", 1)[1] for concept in concepts}
        stems = sorted({concept.rsplit("-", 1)[0] for concept in concepts})
        name = stems[0].replace("site-", "sites-") if len(stems) == 1 else \
            "sites-toes" if all("toe" in stem for stem in stems) else "sites-arteries"
        if len(sides) == 1:
            name += "-" + sides.pop()
        codings = list(dict.fromkeys(self._of(concepts)))
        assert self.sets.get(name, ("", codings))[1] == codings, name
        self._add(name, "Sites: " + name.removeprefix("sites-").replace("-", " "), codings)
        return name

    def all(self):
        return [self._resource(name, title, codings) for name, (title, codings) in sorted(self.sets.items())]

    def _resource(self, name, title, codings):
        by_system = {}
        for system, code, display in codings:
            concept = {"code": code, "display": display} if display else {"code": code}
            by_system.setdefault(system, {})[code] = concept
        text = f"Every code that Footbridge writes here. {title}."
        return {
            "resourceType": "ValueSet", "id": name,
            "text": {"status": "generated", "div": narrative(title, text)},
            "url": self.url(name), "version": self.version, "name": pascal(name), "title": title,
            "status": "active", "experimental": False, "publisher": "Footbridge", "description": text,
            **notice(by_system),
            "compose": {"include": [{"system": system, "concept": list(concepts.values())}
                                    for system, concepts in by_system.items()]},
        }


def concept_maps(catalogue, version):
    """One map for each standard terminology. A target that several of our codes share is wider than each."""
    out = []
    for system, name in ((LOINC, "loinc"), (SNOMED, "snomed-ct")):
        uses = {}
        for row in catalogue.concepts.values():
            for coding in row["codings"]:
                if coding["status"] == "verified" and coding["system"] == system and row["local"]:
                    uses.setdefault(coding["code"], []).append((row, coding))
        elements = {}
        for code, users in uses.items():
            for row, coding in users:
                target = {"code": code, "display": coding.get("display", ""),
                          "equivalence": "equivalent" if len(users) == 1 else "wider",
                          "comment": "Evidence: " + coding["source"]}
                elements.setdefault(row["id"], {"code": row["id"], "display": row["label"], "target": []})
                elements[row["id"]]["target"].append({k: v for k, v in target.items() if v})
        title = f"Footbridge codes to {name.upper().replace('-', ' ')}"
        text = "Only codings with evidence: a public file that pairs the code with the name was read."
        out.append({
            "resourceType": "ConceptMap", "id": f"to-{name}",
            "text": {"status": "generated", "div": narrative(title, text)},
            "url": f"{catalogue.base}/fhir/ConceptMap/to-{name}", "version": version, "name": pascal(f"to-{name}"),
            "title": title, "status": "active", "experimental": False, "publisher": "Footbridge",
            "description": text, **notice([system]),
            "group": [{"source": catalogue.system(), "target": system,
                       "element": [elements[key] for key in sorted(elements)]}],
        })
    return out
