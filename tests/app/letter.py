#!/usr/bin/env python3
"""`footbridge letter`: each visit as a page, read by an HTML parser of others and compared with the input.

    letter.py --program FOOTBRIDGE --work DIR INPUT.json...
"""
import html.parser
import json
import pathlib
import re
import subprocess
import sys

sys.dont_write_bytecode = True
from written import Written  # noqa: E402

options = Written()
work, holds = options.work, options.holds


class Page(html.parser.HTMLParser):
    """Articles with their text and the rows of their tables; faults are tags that do not pair."""
    VOID = {"meta"}

    def __init__(self, text):
        super().__init__()
        self.open, self.faults, self.articles, self.tags = [], [], [], []
        self.feed(text)
        self.close()
        self.faults += self.open

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in self.VOID:
            self.open.append(tag)
        if tag == "article":
            self.articles.append({"text": "", "rows": []})
        if tag == "tr":
            self.articles[-1]["rows"].append([])
        if tag in ("td", "th"):
            self.articles[-1]["rows"][-1].append("")

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)

    def handle_data(self, data):
        if "article" in self.open:
            self.articles[-1]["text"] += data
            if self.open[-1] in ("td", "th"):
                self.articles[-1]["rows"][-1][-1] += data


def indices(bundle):
    """What the record gets: the ankle- and the toe-brachial index by side, two digits, None where there is no value."""
    out = {}
    for entry in bundle["entry"]:
        resource = entry["resource"]
        for coding in resource.get("code", {}).get("coding", []):
            if found := re.fullmatch(r"(ankle|toe)-brachial-index-(right|left)", coding["code"]):
                value = resource.get("valueQuantity", {}).get("value")
                out[found.groups()] = None if value is None else f"{value:.2f}"
    return out


def run(*arguments):
    return subprocess.run([options.program, "letter", *arguments], capture_output=True, text=True, encoding="utf-8")


def changed(name, **members):
    visit = {**json.loads(pathlib.Path(options.inputs[0]).read_text()), **members}
    (work / name).write_text(json.dumps(visit))
    return str(work / name)


done = run(*options.inputs)
page = Page(done.stdout)
visits = [json.loads(pathlib.Path(name).read_text()) for name in options.inputs]
holds("it ends well", done.returncode == 0)
holds(f"every tag is closed in its turn: {page.faults}", not page.faults)
holds("a page for each visit", len(page.articles) == len(visits))
holds("nothing is fetched and nothing runs", not [tag for tag, given in page.tags
                                                 if tag in ("script", "img", "link", "iframe") or {"src", "href"} & set(given)])
holds("no browser would let it", any("default-src 'none'" in given.get("content", "") for _, given in page.tags))

# Pressures of the input, found by a way of its own, in the table of the page.
ROWS = {("ankle", "dorsalisPedis"): "Dorsalis pedis ankle pressure", ("ankle", "posteriorTibial"): "Posterior tibial ankle pressure",
        ("toe", "pressure"): "Toe pressure"}
converted = subprocess.run([options.program, "convert", "--quiet", *options.inputs], capture_output=True, text=True,
                           encoding="utf-8").stdout.splitlines()
seen = set()
for visit, article, line in zip(visits, page.articles, converted, strict=True):
    name = visit["identifier"]["value"]
    rows = {row[0]: row[1:] for row in article["rows"]}
    patient = visit["patient"]
    holds(f"{name} is for its patient", all(word in article["text"] for word in
                                            [patient.get("family", ""), patient.get("birthDate", "")[:4],
                                             *(each["value"] for each in patient["identifiers"])]))
    holds(f"{name} says the cautions", "Decision support only" in article["text"])
    performer = visit["performer"]
    holds(f"{name} says who measured", (performer.get("name") or performer["identifier"]["value"]) in article["text"])
    # "0.75, abnormal" is of one rule set.
    holds(f"{name} names the rule set", "classes by ACC/AHA guideline on peripheral artery disease, 2024" in article["text"])
    if visit.get("status") == "entered-in-error":
        holds(f"{name} says nothing but that it is withdrawn", not rows and "withdrawn" in article["text"])
        continue
    for (part, artery), label in ROWS.items():
        for at, side in enumerate(("right", "left")):
            value = visit.get("legs", {}).get(side, {}).get(part, {}).get(artery)
            cell = rows[label][at]
            if value is None:
                seen.add("missing")
                holds(f"{name} {artery} {side} is told as missing: {cell}", cell == "not recorded")
            elif isinstance(value, (int, float)):
                seen.add("plain")
                holds(f"{name} {artery} {side}: {cell}", re.match(rf"{value:g} mmHg\b", cell))
            elif "repeats" in value:
                seen.add("repeats")
                sent = ", ".join(f"{each:g}" for each in value["repeats"])
                holds(f"{name} {artery} {side} shows its repeats: {cell}", f"sent as repeats {sent} mmHg" in cell)
            elif value.get("unit") == "kPa":
                seen.add("kPa")
                holds(f"{name} {artery} {side} shows what was sent: {cell}", f"sent as {value['value']} kPa" in cell)
            elif "value" in value:
                seen.add("value")
                bound = {"<": "below ", ">": "above ", None: ""}[value.get("comparator")]
                holds(f"{name} {artery} {side}: {cell}", cell.startswith(f"{bound}{value['value']:g} mmHg")
                      and value.get("note", "") in cell)
            elif "absent" in value:
                holds(f"{name} {artery} {side} says why not: {cell}",
                      cell.startswith("no reading, ") and value.get("note", "") in cell)
            else:
                holds(f"{name} {artery} {side} is a finding: {cell}", "signal" in cell or "incompressible" in cell)
    for (index, side), value in indices(json.loads(line)).items():
        cell = rows[f"{index.capitalize()}-brachial index"][("right", "left").index(side)]
        holds(f"{name} {index} {side}: {cell}", cell == "no index" if value is None else cell.startswith(f"{value}, "))
    for at, side in enumerate(("right", "left")):
        arm = visit.get("arms", {}).get(side, {}).get("systolic")
        if isinstance(arm, (int, float)):
            seen.add("arm")
            holds(f"{name} arm {side}", rows["Arm systolic pressure"][at].startswith(f"{arm:g} mmHg"))
holds(f"the examples have everything that is looked for: {seen}",
      seen == {"missing", "plain", "repeats", "kPa", "value", "arm"})

hostile = Page(run(changed("hostile.json", patient={**visits[0]["patient"], "family": "<script>&amp;</article>"},
                           note="</li><b>bold</b>")).stdout)
holds("names and notes are texts", not hostile.faults and len(hostile.articles) == 1
      and "<script>&amp;</article>" in hostile.articles[0]["text"] and "</li><b>bold</b>" in hostile.articles[0]["text"])
gone = Page(run(changed("gone.json", status="entered-in-error", revision=2)).stdout).articles
holds("a withdrawn one has no figures", len(gone) == 1 and not gone[0]["rows"] and "no longer stands" in gone[0]["text"]
      and "Withdrawn by" in gone[0]["text"])
instead = run(changed("instead.json", replaces={"system": "https://clinic.example/visits", "value": "MF-OLD-77"})).stdout
holds("one that stands for another says so", "MF-OLD-77, which is withdrawn" in instead)
by_another = run("--rules", "iwgdf-2015", options.inputs[0]).stdout
holds("the classes of another rule set are told as such", "2024)" not in by_another and "classes by ACC" not in by_another)
(work / "bad.json").write_text("{}")
mixed = run(str(work / "bad.json"), options.inputs[0])
holds("what is refused is told and the rest goes on", mixed.returncode == 1 and len(Page(mixed.stdout).articles) == 1
      and "1 letters, 1 set aside" in mixed.stderr)
holds("an unknown rule set is refused", run("--rules", "nobodys", options.inputs[0]).returncode == 2)
options.end()
