#!/usr/bin/env python3
"""A record server that keeps nothing but a line for each report it is sent: record_sink.py PORT_FILE LINES MODE_FILE

Answers as the status in MODE_FILE says (200 if there is none): a transaction response for 200.
"""
import http.server
import json
import os
import re
import sys

PORT_FILE, LINES, MODE = sys.argv[1:]


class Handler(http.server.BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def do_POST(self):
        bundle = self.rfile.read(int(self.headers["Content-Length"]))
        mode = open(MODE).read().strip() if os.path.exists(MODE) else "200"
        if mode == "200":
            with open(LINES, "a") as out:
                for report in re.findall(rb'"url":"DiagnosticReport","ifNoneExist":"([^"]+)"', bundle):
                    out.write(report.decode() + "\n")
            body = json.dumps({"resourceType": "Bundle", "type": "transaction-response", "entry": [
                {"response": {"status": "201 Created", "location": "X/1/_history/1"}}
                for _ in range(bundle.count(b'"request":{"method":"'))]})
        else:
            body = json.dumps({"resourceType": "OperationOutcome", "issue": [
                {"severity": "error", "code": "invalid", "diagnostics": "Told to say so."}]})
        self.send_response(int(mode))
        self.send_header("Content-Type", "application/fhir+json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body.encode())

    def log_message(self, *ignored):
        pass


class Server(http.server.ThreadingHTTPServer):
    def handle_error(self, request, client_address):
        pass  # a service that is killed breaks its connections off


server = Server(("127.0.0.1", 0), Handler)
server.daemon_threads = True
with open(PORT_FILE + ".new", "w") as out:
    out.write(str(server.server_address[1]))
os.rename(PORT_FILE + ".new", PORT_FILE)
server.serve_forever()
