"""A server on a free port of this machine that answers every GET and POST with what a file says.

    answering_server.py PORT_FILE ANSWER_FILE

The first line of ANSWER_FILE is the status, the rest the body. A first line "entries STATUS COUNT"
is answered with COUNT entries (or "all") of that status.
"""

import http.server
import json
import sys


class Handler(http.server.BaseHTTPRequestHandler):
    def do_GET(self):
        self.do_POST()

    def do_POST(self):
        sent = json.loads(self.rfile.read(int(self.headers.get("Content-Length", 0))) or "null")
        with open(sys.argv[2], encoding="utf-8") as file:
            first, _, body = file.read().partition("\n")
        status = first.split()[0]
        if status == "entries":
            _, each, count = first.split()
            count = len(sent["entry"]) if count == "all" else int(count)
            body = json.dumps({"resourceType": "Bundle", "type": "transaction-response",
                               "entry": [{"response": {"status": each}}] * count})
            status = "200"
        data = body.encode()
        self.send_response(int(status))
        self.send_header("Content-Type", "application/fhir+json")
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(data)

    def log_message(self, *_):
        pass


server = http.server.HTTPServer(("127.0.0.1", 0), Handler)
with open(sys.argv[1], "w", encoding="utf-8") as file:
    file.write(str(server.server_port))
server.serve_forever()
