#!/usr/bin/env python3
"""Writes assessments as QuestionnaireResponses: tests/fhir/to_form.py --form QUESTIONNAIRE.json --out DIR FILE...

FILE is one assessment, or .ndjson with one a line; for each a NAME.form.json and the NAME.json it stands for.
Walks the published Questionnaire and asks the assessment for each link id; what no item asks for is an error.
--enabled leaves out what the form would not have asked, since something else was not answered. --break writes the
first with one fault each instead, as NAME.broken.json.
Shares no code with Footbridge.
"""
import argparse
import json
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "schemas" / "fhir"))
from digits import read, text_of  # noqa: E402

REASONS = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
UCUM = "http://unitsofmeasure.org"


WORDS = pathlib.Path(__file__).parents[2] / "mapping" / "words.json"


def concepts():
    """The concepts that a word of the input stands for, in one list of words or another."""
    out = {}
    for row in json.loads(WORDS.read_text(encoding="utf-8"))["rows"]:
        for word in row["words"]:
            out.setdefault(word["word"], set()).add(word["concept"])
    return out


def flat(value, path=""):
    """The leaves of an assessment by their path; every part of a reading is one."""
    if isinstance(value, dict):
        for name, each in value.items():
            if name in ("value", "unit", "comparator", "repeats") and path.split(".")[0] in READINGS:
                yield path, {name: each}
            else:
                yield from flat(each, f"{path}.{name}" if path else name)
    elif isinstance(value, list) and path == "instruments":
        yield path, value
    else:
        yield path, value


CONCEPTS = concepts()
CONDITIONS = {}
READINGS = ("conditions", "history", "systemic", "exercise", "arms", "legs", "previous")


def narrative(text):
    return {"status": "generated", "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{text}</div>'}


class Response:
    def __init__(self, form, visit):
        self.form = form
        self.visit = visit
        self.asked = {}
        for path, value in flat({k: v for k, v in visit.items() if k not in (
                "format", "identifier", "patient", "encounter", "order", "issuedAt", "status")}):
            if isinstance(value, dict):
                self.asked.setdefault(path, {}).update(value)
            else:
                self.asked[path] = value
        if visit.get("status") == "preliminary":
            self.asked["status"] = "preliminary"

    def value(self, item, given):
        kind = item["type"]
        if kind == "quantity":
            return {"valueQuantity": given}
        if kind == "choice":
            options = item.get("answerOption", [])
            for option in options:
                if option.get("valueString") == given:
                    return option
            for option in options:
                if "valueCoding" in option and option["valueCoding"]["code"] in {given, *CONCEPTS.get(given, ())}:
                    return option
            system = REASONS if item["linkId"].endswith(".absent") else None
            return {"valueCoding": {**({"system": system} if system else {}), "code": given}}
        return {"value" + {"dateTime": "DateTime", "date": "Date", "integer": "Integer"}.get(kind, "String"): given}

    def quantities(self, item, given):
        """The figure with its unit, or the figures."""
        given = given if isinstance(given, dict) else {"value": given}
        units = [e["valueCoding"] for e in item["extension"] if e["url"].endswith("unitOption")]
        unit = next(u for u in units if u["code"] == given.get("unit", units[0]["code"]))
        for figure in given.get("repeats", [given.get("value")]):
            out = {"value": figure, "unit": unit["display"], "system": UCUM, "code": unit["code"]}
            if "comparator" in given:
                out["comparator"] = given["comparator"]
            yield {"valueQuantity": out}

    def answers(self, item):
        given = self.asked.pop(item["linkId"])
        if item["type"] == "quantity":
            return list(self.quantities(item, given))
        if isinstance(given, dict):
            given = given["value"]
        return [self.value(item, each) for each in (given if isinstance(given, list) else [given])]

    def items(self, asked):
        out = []
        for item in asked:
            link = item["linkId"]
            if link == "instruments":
                for each in self.asked.pop(link, []):
                    inner = [{"linkId": i["linkId"], "text": i["text"],
                              "answer": [self.value(i, each[i["linkId"].split(".")[1]])]}
                             for i in item["item"] if i["linkId"].split(".")[1] in each]
                    out.append({"linkId": link, "text": item["text"], "item": inner})
            elif item["type"] == "group":
                inner = self.items(item["item"])
                if inner:
                    out.append({"linkId": link, "text": item["text"], "item": inner})
            elif link in self.asked:
                out.append({"linkId": link, "text": item["text"], "answer": self.answers(item)})
        return out

    def resource(self):
        visit, patient = self.visit, self.visit["patient"]
        name = {k: patient[k] for k in ("family", "given") if k in patient}
        person = {"resourceType": "Patient", "id": "patient", "identifier": patient["identifiers"],
                  **({"name": [name]} if name else {}),
                  **{k: patient[k] for k in ("gender", "birthDate") if k in patient}}
        performer = {k: v for k, v in visit["performer"].items() if k != "role"}
        for path in list(self.asked):
            if path.startswith("performer.") and path != "performer.role":
                del self.asked[path]
        author = {**({"identifier": performer["identifier"]} if "identifier" in performer else {}),
                  **({"display": performer["name"]} if "name" in performer else {})}
        out = {"resourceType": "QuestionnaireResponse", "contained": [person],
               "text": narrative("Lower-limb arterial assessment, filled in"),
               "identifier": visit["identifier"], "questionnaire": self.form["url"],
               "status": {"corrected": "amended", "entered-in-error": "entered-in-error"}.get(
                   visit["status"], "completed"),
               "subject": {"reference": "#patient"}, "author": author}
        for theirs, ours in (("basedOn", "order"), ("encounter", "encounter")):
            if ours in visit:
                link = {"identifier": visit[ours]["identifier"]}
                out[theirs] = [link] if theirs == "basedOn" else link
        if "issuedAt" in visit:
            out["authored"] = visit["issuedAt"]
        out["item"] = self.items(self.form["item"])
        if self.asked:
            raise SystemExit(f"{visit['identifier']['value']}: no item asks for {sorted(self.asked)}")
        return out


def enabled(items, answered):
    """Those that the form asks for: by what another item was answered, it asks for nothing that the input lacks."""
    out = []
    for item in items:
        asked = all((each["question"] in answered) == each["answerBoolean"] for each in CONDITIONS.get(item["linkId"], []))
        inner = enabled(item.get("item", []), answered)
        if asked and (inner or "item" not in item):
            out.append({**item, **({"item": inner} if inner else {})})
    return out


def links(items):
    for item in items:
        if "answer" in item:
            yield item["linkId"]
        yield from links(item.get("item", []))


def conditions(items):
    for item in items:
        if "enableWhen" in item:
            yield item["linkId"], [each for each in item["enableWhen"] if each["operator"] == "exists"]
        yield from conditions(item.get("item", []))


def find(items, link):
    for item in items:
        inner = item if item["linkId"] == link else find(item.get("item", []), link)
        if inner:
            return inner
    return None


def broken(response):
    """Faults that whoever reads by the form has to find, by name."""
    def of(change):
        copy = json.loads(text_of(response))
        change(copy["item"])
        return copy

    def answer(link, value):
        return of(lambda items: find(items, link).update(answer=value))

    def without(link):
        return of(lambda items: items.remove(find(items, link)))

    arm = "arms.right.systolic"
    yield "unknown-item", of(lambda items: find(items, arm).update(linkId="arms.right.sistolic"))
    yield "code-not-offered", answer("legs.right.stated.fontaine", [{"valueCoding": {"system": REASONS, "code": "error"}}])
    yield "no-time", without("measuredAt")
    yield "no-organisation", without("organization")
    yield "text-for-a-quantity", answer(arm, [{"valueString": "120"}])
    yield "text-for-a-time", answer("measuredAt", [{"valueString": "yesterday"}])
    yield "two-times", of(lambda items: find(items, "measuredAt")["answer"].append(find(items, "measuredAt")["answer"][0]))
    yield "wrong-order", of(lambda items: items.reverse())
    yield "reason-beside-a-value", of(lambda items: find(items, "arms.right")["item"].insert(1, {
        "linkId": arm + ".absent", "answer": [{"valueCoding": {"system": REASONS, "code": "error"}}]}))


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--form", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--enabled", action="store_true")
    parser.add_argument("--break", action="store_true", dest="breaks")
    parser.add_argument("files", nargs="+")
    options = parser.parse_args()
    form = json.load(open(options.form, encoding="utf-8"))
    CONDITIONS.update(conditions(form["item"]))
    out = pathlib.Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    for file in map(pathlib.Path, options.files):
        text = file.read_text(encoding="utf-8")
        lines = text.splitlines() if file.suffix == ".ndjson" else [text]
        for i, line in enumerate(lines):
            visit = read(line)
            stem = f"{file.stem}-{i}" if len(lines) > 1 else file.stem
            response = Response(form, visit).resource()
            if options.enabled:
                response["item"] = enabled(response["item"], set(links(response["item"])))
            if options.breaks:
                for name, each in broken(response):
                    (out / f"{name}.broken.json").write_text(text_of(each), encoding="utf-8")
                return 0
            (out / f"{stem}.json").write_text(line, encoding="utf-8")
            (out / f"{stem}.form.json").write_text(text_of(response), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
