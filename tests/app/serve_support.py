"""Starts the service, speaks to it by curl and by raw sockets, and makes what it needs."""
import json
import os
import pathlib
import socket
import subprocess
import time

TOP = pathlib.Path(__file__).resolve().parents[2]
CLINIC = TOP / "examples/clinic"
# Shapes of what must not be in journal, metrics, trail or refusals: taken from the examples.
PATIENT_WORDS = []


def example(name="01-normal-both-legs", **changes):
    read = json.loads((CLINIC / f"{name}.json").read_text())
    for key, value in changes.items():
        read[key] = value
    return read


def named(value, revision=1, name="01-normal-both-legs"):
    read = example(name, revision=revision)
    read["identifier"]["value"] = value
    if revision > 1:
        read["status"] = "corrected"
    return read


def patient_words():
    """Names, numbers, dates of birth and identifiers of the assessments of all examples."""
    words = set()
    for file in CLINIC.glob("*.json"):
        read = json.loads(file.read_text())
        patient = read["patient"]
        words |= {each["value"] for each in patient["identifiers"]}
        words |= {patient.get("family"), patient.get("birthDate"), read["identifier"]["value"]}
        words |= {read["performer"].get("name")}
    return {word for word in words if word and len(word) > 3}


class Answer:
    def __init__(self, status, fields, body):
        self.status, self.fields, self.body = status, fields, body

    def json(self):
        return json.loads(self.body)

    def texts(self):
        return [issue["details"]["text"] for issue in self.json()["issue"]]


class Service:
    """One `footbridge serve` in a folder of its own."""

    FOLDER = '[destinations.box]\nkind = "folder"\npath = "box"\npatient = "logical"\n'

    def __init__(self, program, work, serve="", destinations=FOLDER, env=None, scheme="http"):
        self.program, self.work, self.scheme = program, pathlib.Path(work), scheme
        self.work.mkdir(parents=True, exist_ok=True)
        self.env = dict(os.environ, **(env or {}))
        self.token = None
        self.curl_options = []
        self.process = None
        (self.work / "footbridge.toml").write_text(
            f'data = "data"\n{destinations}[serve]\nport = 0\nport_file = "port"\n{serve}')

    def start(self):
        (self.work / "port").unlink(missing_ok=True)
        self.process = subprocess.Popen([self.program, "serve"], cwd=self.work, env=self.env,
                                        stderr=open(self.work / "log", "a"), stdout=open(self.work / "out", "a"))
        end = time.time() + 30
        while not (self.work / "port").exists():
            if self.process.poll() is not None or time.time() > end:
                raise AssertionError("the service did not start: " + self.log()[-600:])
            time.sleep(0.02)
        self.port = int((self.work / "port").read_text())
        return self

    def __enter__(self):
        return self.start()

    def __exit__(self, *ignored):
        self.stop()

    def stop(self):
        if self.process and self.process.poll() is None:
            self.process.terminate()
            try:
                return self.process.wait(40)
            except subprocess.TimeoutExpired:
                self.process.kill()
                raise
        return self.process.returncode if self.process else None

    def kill(self):
        self.process.kill()
        self.process.wait()

    def log(self):
        return (self.work / "log").read_text()

    def run(self, *arguments):
        return subprocess.run([self.program, *arguments], cwd=self.work, capture_output=True, text=True, env=self.env)

    def curl(self, path, *options, token=None):
        command = ["curl", "-s", "-S", "-i", "--max-time", "30", *self.curl_options]
        bearer = token if token is not None else self.token
        if bearer:
            command += ["-H", f"Authorization: Bearer {bearer}"]
        done = subprocess.run([*command, *options, f"{self.scheme}://127.0.0.1:{self.port}{path}"],
                              capture_output=True)
        if done.returncode != 0:
            raise AssertionError(f"curl: exit {done.returncode}: {done.stderr.decode()}")
        return parse(done.stdout)

    def post(self, body, query="", kind="application/json", token=None):
        text = body if isinstance(body, (bytes, str)) else json.dumps(body)
        file = self.work / "body"
        file.write_bytes(text.encode() if isinstance(text, str) else text)
        return self.curl("/assessments" + query, "-H", f"Content-Type: {kind}", "-H", "Expect:",
                         "--data-binary", f"@{file}", token=token)

    def raw(self, data, wait=3.0, finish=False):
        """Everything that comes back for these bytes until the service closes, or for `wait` seconds."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=wait) as sock:
            sock.sendall(data)
            if finish:
                sock.shutdown(socket.SHUT_WR)
            got = b""
            end = time.time() + wait
            try:
                while time.time() < end:
                    piece = sock.recv(65536)
                    if not piece:
                        return got, True
                    got += piece
            except (TimeoutError, ConnectionError):
                pass
            return got, False

    def metric(self, start):
        text = self.curl("/metrics").body
        return sum(float(line.rsplit(" ", 1)[1]) for line in text.splitlines() if line.startswith(start))

    def until(self, what, seconds=20, every=0.05):
        end = time.time() + seconds
        while time.time() < end:
            if what():
                return True
            time.sleep(every)
        return False

    def rows(self):
        """All rows of the outbox, whatever became of them."""
        rows, after = [], 0
        while True:
            page = self.curl(f"/outbox?after={after}").json()["deliveries"]
            if not page:
                return rows
            rows += page
            after = page[-1]["row"]

    def values(self):
        return sorted(row["assessment"]["value"] for row in self.rows())

    def deliveries(self, path):
        return self.curl(path).json()["deliveries"]

    def delivered(self, path):
        return self.until(lambda: all(each["state"] == "delivered" for each in self.deliveries(path)))


def parse(data):
    head, _, body = data.partition(b"\r\n\r\n")
    while head.startswith(b"HTTP/1.1 100"):
        head, _, body = body.partition(b"\r\n\r\n")
    lines = head.decode("latin-1").split("\r\n")
    fields = {}
    for line in lines[1:]:
        name, _, value = line.partition(":")
        fields[name.strip().lower()] = value.strip()
    return Answer(int(lines[0].split()[1]), fields, body.decode())


def certificates(folder):
    """An authority, and certificates of it for the server and for one client; another for a stranger."""
    folder = pathlib.Path(folder)
    folder.mkdir(parents=True, exist_ok=True)

    def openssl(*arguments):
        subprocess.run(["openssl", *arguments], cwd=folder, check=True, capture_output=True)

    for authority in ("ca", "strange-ca"):
        openssl("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "90",
                "-subj", f"/CN={authority}", "-keyout", f"{authority}.key", "-out", f"{authority}.pem")
    (folder / "san").write_text("subjectAltName=IP:127.0.0.1,DNS:localhost\n")
    for name, authority, days in (("server", "ca", 90), ("next", "ca", 5), ("client", "ca", 90),
                                  ("stranger", "strange-ca", 90)):
        openssl("req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-subj", f"/CN={name}",
                "-keyout", f"{name}.key", "-out", f"{name}.csr")
        openssl("x509", "-req", "-in", f"{name}.csr", "-CA", f"{authority}.pem", "-CAkey", f"{authority}.key",
                "-CAcreateserial", "-days", str(days), "-extfile", "san", "-out", f"{name}.pem")
    return folder
