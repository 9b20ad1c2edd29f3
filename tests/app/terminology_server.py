#!/usr/bin/env python3
"""A scripted FHIR terminology server for tests: terminology_server.py PORT-FILE CATALOGUE

It knows the codes of a list as `codes list --json` prints it, except: LOINC 8508-4 it does not know, SNOMED CT
446841001 is out of use, and LOINC 77194-9 has another name.
"""

import json
import sys
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

UNKNOWN, RETIRED, RENAMED = "8508-4", "446841001", "77194-9"
KNOWN = {}
for line in Path(sys.argv[2]).read_text(encoding="utf-8").splitlines():
    for coding in json.loads(line)["codings"]:
        KNOWN[coding["system"], coding["code"]] = coding.get("display", "")


def parameters(*rows):
    return {"resourceType": "Parameters", "parameter": list(rows)}


class Handler(BaseHTTPRequestHandler):
    def do_POST(self):
        asked = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        given = {row["name"]: next(v for k, v in row.items() if k.startswith("value")) for row in asked["parameter"]}
        if self.headers.get("Authorization") == "Bearer wrong":
            return self.answer(401, {"resourceType": "OperationOutcome", "issue": []})
        code = given["code"]
        lookup = self.path.endswith("$lookup")
        name = KNOWN.get((given["system" if lookup else "url"], code))
        if name is None or code == UNKNOWN:
            return self.missing(lookup)
        name = "Index of ankle and arm" if code == RENAMED else name
        if lookup:
            return self.answer(200, parameters(
                {"name": "display", "valueString": name},
                {"name": "property", "part": [{"name": "code", "valueCode": "inactive"},
                                              {"name": "value", "valueBoolean": code == RETIRED}]}))
        return self.answer(200, parameters({"name": "result", "valueBoolean": given.get("display", name) == name}))

    def missing(self, lookup):
        text = {"details": {"text": "no such code"}, "severity": "error", "code": "not-found"}
        if lookup:
            return self.answer(404, {"resourceType": "OperationOutcome", "issue": [text]})
        return self.answer(200, parameters({"name": "result", "valueBoolean": False}))

    def answer(self, status, body):
        data = json.dumps(body).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/fhir+json")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)

    def log_message(self, *_):
        pass


server = HTTPServer(("127.0.0.1", 0), Handler)
Path(sys.argv[1]).write_text(str(server.server_port), encoding="utf-8")
server.serve_forever()
