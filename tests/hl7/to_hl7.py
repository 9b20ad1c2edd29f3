#!/usr/bin/env python3
"""Writes the assessments of examples/clinic as messages of HL7 v2.5.1, with the source map they need.

tests/hl7/to_hl7.py --out DIR FILE...: for each NAME.json a NAME.hl7, a NAME.toml (what messages have no place
for: instruments) and the NAME.json it stands for. Shares no code with Footbridge. A file is left out, and named,
only if it holds what a message cannot say.
"""
import argparse
import json
import pathlib
import re

OWN = "99FOOTBRIDGE"
ESCAPES = {"|": "F", "^": "S", "&": "T", "~": "R", "\\": "E"}


def escaped(text):
    return "".join("\\" + ESCAPES[c] + "\\" if c in ESCAPES else c for c in str(text))


def stamp(moment):
    return re.sub(r"[-:T]", "", moment[:19]) + moment[19:].replace(":", "")


class Unsayable(Exception):
    pass


class Message:
    def __init__(self, visit):
        self.visit = visit
        self.authorities = {}
        self.results = []

    def authority(self, system):
        return self.authorities.setdefault(system, f"A{len(self.authorities) + 1}")

    def ei(self, identifier):
        return f"{escaped(identifier['value'])}^{self.authority(identifier['system'])}" if identifier else ""

    def cx(self, identifier):
        return f"{escaped(identifier['value'])}^^^{self.authority(identifier['system'])}" if identifier else ""

    def obx(self, path, kind, value, unit="", note=""):
        performer = self.visit["performer"]
        xcn = ""
        if not self.results:
            who = performer.get("identifier")
            given, _, family = performer.get("name", "").rpartition(" ")
            xcn = f"{escaped(who['value']) if who else ''}^{escaped(family)}^{escaped(given)}"
            xcn += f"^^^^^^{self.authority(who['system'])}" if who else ""
        where = self.visit["organization"]
        xon = ""
        if not self.results:
            who = where.get("identifier")
            xon = escaped(where.get("name", "")) + (
                f"^^^^^{self.authority(who['system'])}^^^^{escaped(who['value'])}" if who else "")
        fields = ["OBX", str(len(self.results) + 1), kind, f"{path}^^{OWN}", "", value, unit, "", "", "", "", "F",
                  "", "", "", "", xcn, "", "", "", "", "", "", xon]
        self.results.append("|".join(fields))
        if note:
            self.results.append(f"NTE|1||{escaped(note)}")

    def reading(self, path, value):
        note = value.get("note", "") if isinstance(value, dict) else ""
        if not isinstance(value, dict):
            kind = "CWE" if isinstance(value, str) else "NM"
            return self.obx(path, kind, f"{escaped(value)}^^{OWN}" if kind == "CWE" else str(value))
        if "repeats" in value:
            raise Unsayable("several readings of one pressure")
        if "finding" in value and "limit" in value:
            return self.obx(path, "CWE", f"{value['finding']}:{value['limit']}^^{OWN}", "", note)
        if "absent" in value:
            return self.obx(path, "CWE", f"absent:{value['absent']}^^{OWN}", "", note)
        if "grade" in value:
            return self.obx(path, "CWE", f"grade:{value['grade']}:{value['scale']}^^{OWN}", "", note)
        if "finding" in value:
            return self.obx(path, "CWE", f"{value['finding']}^^{OWN}", "", note)
        if "comparator" in value:
            return self.obx(path, "SN", f"{value['comparator']}^{value['value']}", value.get("unit", ""), note)
        if isinstance(value["value"], str):
            return self.obx(path, "CWE", f"{value['value']}^^{OWN}", "", note)
        return self.obx(path, "NM", str(value["value"]), value.get("unit", ""), note)

    def walk(self, path, node):
        leaf = not isinstance(node, dict) or {"value", "finding", "grade", "absent", "repeats"} & set(node)
        if path == "conditions.room":
            self.obx(path, "ST", escaped(node))
        elif leaf:
            self.reading(path, node)
        else:
            for name, child in node.items():
                self.walk(f"{path}.{name}", child)

    def segments(self):
        visit = self.visit
        if "previous" in visit:
            raise Unsayable("earlier figures")
        patient = visit["patient"]
        for part in ("conditions", "history", "systemic", "exercise", "arms", "legs"):
            if part in visit:
                self.walk(part, visit[part])
        if "role" in visit["performer"]:
            self.obx("performer.role", "ST", escaped(visit["performer"]["role"]))
        sex = {"female": "F", "male": "M", "other": "O", "unknown": "U"}.get(patient.get("gender"), "")
        numbers = "~".join(self.cx(i) for i in patient["identifiers"])
        given = "^".join(escaped(name) for name in patient.get("given", []))
        yield "MSH|^~\\&|FORM|CLINIC|FOOTBRIDGE|RECORD|20261101120000+0000||ORU^R01^ORU_R01|" \
              f"{escaped(visit['identifier']['value'])}|P|2.5.1||||||UNICODE UTF-8"
        yield f"PID|1||{numbers}||{escaped(patient.get('family', ''))}^{given}||" \
              f"{patient.get('birthDate', '').replace('-', '')}|{sex}"
        if "encounter" in visit:
            yield "PV1|1|O" + "|" * 17 + self.cx(visit["encounter"]["identifier"])
        order = self.ei(visit.get("order", {}).get("identifier"))
        issued = stamp(visit["issuedAt"]) if "issuedAt" in visit else ""
        state = {"final": "F", "preliminary": "P"}[visit["status"]]
        yield f"OBR|1|{order}|{self.ei(visit['identifier'])}|LEGS^Assessment of the legs^L|||" \
              f"{stamp(visit['measuredAt'])}" + "|" * 15 + f"{issued}|||{state}"
        if "note" in visit:
            yield f"NTE|1||{escaped(visit['note'])}"
        yield from self.results

    def bytes(self):
        return ("\r".join(self.segments()) + "\r").encode()

    def source_map(self):
        lines = ['format = "footbridge-source-map-1"', 'name = "made by tests/hl7/to_hl7.py"', "[hl7.authorities]"]
        lines += [f"{name} = {json.dumps(system)}" for system, name in self.authorities.items()]
        for tool in self.visit.get("instruments", []):
            lines.append("[[defaults.instruments]]")
            lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in tool.items()]
        return "\n".join(lines) + "\n"


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--out", type=pathlib.Path, required=True)
    parser.add_argument("files", nargs="+", type=pathlib.Path)
    arguments = parser.parse_args()
    arguments.out.mkdir(parents=True, exist_ok=True)
    for path in arguments.files:
        text = path.read_text(encoding="utf-8")
        # Figures keep their digits.
        message = Message(json.loads(text, parse_float=Digits, parse_int=Digits))
        try:
            content = message.bytes()
        except Unsayable as why:
            print(f"left out: {path.name}: {why}")
            continue
        (arguments.out / f"{path.stem}.hl7").write_bytes(content)
        (arguments.out / f"{path.stem}.toml").write_text(message.source_map(), encoding="utf-8")
        (arguments.out / path.name).write_text(text, encoding="utf-8")


class Digits:
    """A number as it was written."""

    def __init__(self, text):
        self.text = text

    def __str__(self):
        return self.text


if __name__ == "__main__":
    main()
