"""Puts the constraints of a profile onto the snapshot of its R4 base, and says them as a differential.

Only what these profiles need: cardinality, allowed types, patterns, bindings, invariants, and slices of a choice
by type. The HL7 library makes the same snapshot from the differential alone; tests hold the two together.
"""

import copy


def _constrain(element, rules):
    """Applies the rules of one element; the order of members is that of the base."""
    for name, value in rules.items():
        if name == "types":
            element["type"] = [t for t in element["type"] if t["code"] in value]
        elif name == "constraint":
            element["constraint"] = element.get("constraint", []) + value
        elif name != "slices":
            element[name] = value


def _slices(element, rules):
    """One slice for each type of a choice, behind the element that they slice."""
    out = []
    for name, inner in rules.get("slices", {}).items():
        piece = copy.deepcopy(element)
        piece["id"] = f"{element['id']}:{name}"
        piece["sliceName"] = name
        piece["min"] = 0
        piece.pop("slicing", None)
        _constrain(piece, inner)
        out.append(piece)
    return out


def snapshot(base, profile_url, constraints):
    """The elements of the base with the constraints of each path applied."""
    elements = []
    root = base["type"]
    for source in base["snapshot"]["element"]:
        element = copy.deepcopy(source)
        for constraint in element.get("constraint", []):
            constraint.setdefault("source", base["url"])
        rules = constraints.get(element["path"], {})
        slices = _slices(element, rules)
        if slices:
            element["slicing"] = _by_type()
        _constrain(element, rules)
        elements.append(element)
        elements += slices
    missing = set(constraints) - {element["path"] for element in elements}
    assert not missing, f"{profile_url}: {root} has no {missing}"
    return elements


def _by_type():
    return {"discriminator": [{"type": "type", "path": "$this"}], "ordered": False, "rules": "closed"}


def _said(path, element_id, rules, base_types):
    out = {"id": element_id, "path": path}
    for name, value in rules.items():
        if name == "types":
            out["type"] = [t for t in base_types if t["code"] in value]
        elif name != "slices":
            out[name] = value
    return out


def differential(base, constraints):
    """The same constraints alone, in the order of the base."""
    out = []
    for source in base["snapshot"]["element"]:
        path = source["path"]
        if path not in constraints:
            continue
        rules = constraints[path]
        said = _said(path, path, rules, source.get("type", []))
        if rules.get("slices"):
            said["slicing"] = _by_type()
        out.append(said)
        for name, inner in rules.get("slices", {}).items():
            piece = _said(path, f"{path}:{name}", inner, source.get("type", []))
            piece["sliceName"] = name
            out.append(piece)
    return out
