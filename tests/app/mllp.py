#!/usr/bin/env python3
"""The cases of mllp.sh: mllp.py PROGRAM [NAME...]"""
import json
import os
import pathlib
import random
import re
import shutil
import socket
import ssl
import subprocess
import sys
import tempfile
import threading
import time

sys.dont_write_bytecode = True
from serve_support import TOP, Service, certificates  # noqa: E402
from cases import case, equal, holds, main  # noqa: E402

PROGRAM = sys.argv[1]
WORK = pathlib.Path(tempfile.mkdtemp(prefix="footbridge-mllp-"))
MAP = f'[serve.maps]\nclinic = "{TOP}/examples/hl7v2/clinic.toml"\n'
ONE = (TOP / "examples/hl7v2/one.hl7").read_bytes().strip(b"\x0b\x1c\r\n") + b"\r"
BAD = (TOP / "examples/hl7v2/two.hl7").read_bytes().split(b"\x0b")[2].strip(b"\x1c\r\n") + b"\r"


def framed(message):
    return b"\x0b" + message + b"\x1c\r"


def field(message, name, number):
    """A field of the first segment of that name, as MSH counts its own."""
    for segment in re.split(rb"[\r\n]+", message):
        if segment.startswith(name + b"|"):
            fields = segment.split(b"|")
            at = number - (name == b"MSH")
            return fields[at] if at < len(fields) else b""
    return b""


def changed(message, **parts):
    """The message with fields exchanged: MSH_10=b"x"."""
    out = []
    for segment in message.split(b"\r"):
        fields = segment.split(b"|")
        for key, value in parts.items():
            name, number = key.split("_")
            at = int(number) - (name == "MSH")
            if fields[0] == name.encode():
                fields += [b""] * (at + 1 - len(fields))
                fields[at] = value
        out.append(b"|".join(fields))
    return b"\r".join(out)


def numbered(name):
    """The example as another message about another order of another patient."""
    name = name.encode()
    return changed(ONE, MSH_10=b"C" + name, OBR_3=name + b"^MLF", PID_3=b"P" + name + b"^^^MLF", ORC_3=b"")


class Sender:
    """A connection that sends bytes and takes acknowledgements apart by itself."""

    def __init__(self, port, wait=20, context=None):
        self.sock = socket.create_connection(("127.0.0.1", port), timeout=wait)
        if context:
            self.sock = context.wrap_socket(self.sock, server_hostname="localhost")
        self.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.got = b""

    def __enter__(self):
        return self

    def __exit__(self, *ignored):
        self.sock.close()

    def send(self, data):
        self.sock.sendall(data)
        return self

    def answer(self):
        """The next acknowledgement; nothing if the connection was closed."""
        while b"\x1c\r" not in self.got:
            piece = self.sock.recv(65536)
            if not piece:
                return None
            self.got += piece
        frame, self.got = self.got.split(b"\x1c\r", 1)
        if not frame.startswith(b"\x0b"):
            raise AssertionError(f"no frame: {frame[:80]!r}")
        return frame[1:]

    def ask(self, message):
        return self.send(framed(message)).answer()

    def closed(self):
        try:
            return self.sock.recv(1) == b""
        except ConnectionError:
            return True


def code(answer):
    return field(answer, b"MSA", 1).decode()


def of(answer):
    return field(answer, b"MSA", 2)


class Messages(Service):
    """A service with a way in for messages."""

    def __init__(self, name, mllp="", serve="", **options):
        super().__init__(PROGRAM, WORK / name, f'{serve}{MAP}[serve.mllp]\nport = 0\nport_file = "mllp-port"\n'
                         f'map = "clinic"\n{mllp}', **options)

    def start(self):
        (self.work / "mllp-port").unlink(missing_ok=True)
        super().start()
        holds(self.until(lambda: (self.work / "mllp-port").exists() and (self.work / "mllp-port").read_text()), "no port")
        self.mllp = int((self.work / "mllp-port").read_text())
        return self

    def sender(self, **options):
        return Sender(self.mllp, **options)

    def aside(self):
        return sorted((self.work / "data/set-aside").glob("*"))


@case
def a_message_is_stored_acknowledged_and_delivered():
    with Messages("happy") as s, s.sender() as sender:
        answer = sender.ask(ONE)
        equal((code(answer), of(answer)), ("AA", field(ONE, b"MSH", 10)))
        equal(field(answer, b"MSH", 5), field(ONE, b"MSH", 3), "receiver")
        equal(s.values(), ["MF-26-0901"])
        holds(s.until(lambda: len(list((s.work / "box").glob("*.json"))) == 1), "not delivered")
        s.run("convert", "--quiet", "--from", "hl7v2", "--map", str(TOP / "examples/hl7v2/clinic.toml"), "--patient",
              "logical", "--out", "made", str(TOP / "examples/hl7v2/one.hl7"))
        equal(next((s.work / "box").glob("*.json")).read_text().strip(),
              next((s.work / "made").glob("*.json")).read_text().strip(), "bundle")
        equal(s.metric('footbridge_mllp_messages_total{code="AA"}'), 1)


@case
def bytes_may_come_in_any_pieces():
    with Messages("pieces") as s, s.sender() as sender:
        for byte in framed(ONE):
            sender.send(bytes([byte]))
        equal(code(sender.answer()), "AA", "one byte at a time")
        hundred = [numbered(f"H{i}") for i in range(100)]
        sender.send(b"".join(map(framed, hundred)))
        equal([of(sender.answer()) for _ in hundred], [field(each, b"MSH", 10) for each in hundred], "order")
        sender.send(framed(numbered("split"))[:-1])
        time.sleep(0.2)
        sender.send(b"\r")
        equal(code(sender.answer()), "AA", "the end in two writes")
        sender.send(framed(numbered("half-a"))[:300])
        time.sleep(0.2)
        sender.send(framed(numbered("half-a"))[300:] + framed(numbered("half-b"))[:10])
        equal(of(sender.answer()), b"Chalf-a")
        sender.send(framed(numbered("half-b"))[10:])
        equal(of(sender.answer()), b"Chalf-b")
        equal(len(s.values()), 104, "rows")


@case
def what_stands_between_frames_is_dropped_and_counted():
    with Messages("stray") as s, s.sender() as sender:
        sender.send(b"hello\r\n" + framed(numbered("g1")) + b"\n\nnoise" + framed(numbered("g2")) + b"\r")
        equal([of(sender.answer()) for _ in range(2)], [b"Cg1", b"Cg2"])
        sender.send(b"\x0bMSH|^~\\&|broken off" + framed(numbered("g3")))
        equal(of(sender.answer()), b"Cg3")
        equal(s.metric('footbridge_mllp_strange_total{kind="stray"}'), 10)
        equal(s.metric('footbridge_mllp_strange_total{kind="unfinished"}'), 1)
        equal(s.values(), ["g1", "g2", "g3"])
        equal(code(sender.ask(b"not a message at all")), "AR")
        equal(code(sender.ask(b"")), "AR", "an empty frame")
        equal(code(sender.ask(numbered("g4").rstrip(b"\r"))), "AA", "without the last return")
        equal(code(sender.ask(numbered("g5").replace(b"\r", b"\n"))), "AA", "with line feeds")


@case
def what_is_too_long_is_refused_and_the_next_is_taken():
    with Messages("long", mllp="max_megabytes = 1\n") as s, s.sender() as sender:
        long = numbered("L1") + b"NTE|1||" + b"x" * (1 << 20) + b"\r"
        sender.send(framed(long) + framed(numbered("L2")))
        first, second = sender.answer(), sender.answer()
        equal((code(first), of(first)), ("AR", b"CL1"))
        holds(b"longer than" in first, "the reason")
        equal((code(second), of(second)), ("AA", b"CL2"))
        equal(s.values(), ["L2"])
        equal(s.metric('footbridge_mllp_strange_total{kind="oversized"}'), 1)


@case
def what_is_wrong_is_answered_with_reasons_and_kept_aside():
    with Messages("wrong") as s, s.sender() as sender:
        answer = sender.ask(BAD)
        equal((code(answer), of(answer)), ("AE", field(BAD, b"MSH", 10)))
        holds(b"|OBX^4^5|" in answer and b"11o" in answer, "place and reason")
        kept = [each for each in s.aside() if each.suffix == ".hl7"]
        equal([each.read_bytes() for each in kept], [BAD], "set aside")
        reasons = [each.read_text() for each in s.aside() if each.name.endswith(".issues.txt")]
        holds(len(reasons) == 1 and "OBX[4]-5" in reasons[0], "reasons")
        equal(code(sender.ask(BAD)), "AE", "the same again")
        equal(len(s.aside()), 2, "kept once")
        equal(s.values(), [])
        for what, message in (("event", changed(ONE, MSH_9=b"ADT^A01^ADT_A01")), ("test", changed(ONE, MSH_11=b"T")),
                              ("version", changed(ONE, MSH_12=b"3.0"))):
            equal(code(sender.ask(message)), "AR", what)
        equal(code(sender.ask(changed(BAD, MSH_10=b"mended").replace(b"11o", b"110"))), "AA", "mended")
        equal(len(s.values()), 1)


@case
def parts_of_a_message_are_refused_and_kept():
    with Messages("parts") as s, s.sender() as sender:
        first, second = ONE + b"DSC|part-2|F\r", changed(ONE, MSH_10=b"part-2", MSH_14=b"part-2")
        for part, place in ((first, b"|DSC^1^1|"), (second, b"|MSH^1^14|"), (ONE + b"ADD|more\r", b"|ADD^1^1|")):
            answer = sender.ask(changed(part, MSH_10=place.strip(b"|").replace(b"^", b"-")))
            equal(code(answer), "AE", place)
            holds(place in answer, answer)
        equal(s.values(), [], "nothing of them is stored")
        equal(len([each for each in s.aside() if each.suffix == ".hl7"]), 3, "but kept")
        equal(code(sender.ask(changed(ONE, MSH_10=b"whole"))), "AA", "in one piece")


@case
def several_patients_in_one_message():
    bad = BAD[BAD.index(b"PID"):]
    with Messages("several") as s, s.sender() as sender:
        body = numbered("M1")[:-1] + b"\r"
        for name in ("M2", "M3"):
            other = numbered(name)
            body += other[other.index(b"PID"):]
        answer = sender.ask(body)
        equal(code(answer), "AA")
        equal(s.values(), ["M1", "M2", "M3"])
        answer = sender.ask(numbered("M4") + bad)
        equal(code(answer), "AE", "one of two is wrong")
        equal(s.values(), ["M1", "M2", "M3", "M4"])
        equal(len([each for each in s.aside() if each.suffix == ".hl7"]), 1)


@case
def a_replay_is_answered_again_and_another_message_of_its_number_is_refused():
    with Messages("replay") as s:
        with s.sender() as sender:
            equal([code(sender.ask(ONE)) for _ in range(3)], ["AA"] * 3)
        with s.sender() as sender:
            equal(code(sender.ask(ONE)), "AA", "on another connection")
        s.stop()
    with s, s.sender() as sender:
        equal(code(sender.ask(ONE)), "AA", "after a restart")
        equal(s.values(), ["MF-26-0901"])
        other = changed(numbered("X1"), MSH_10=field(ONE, b"MSH", 10))
        answer = sender.ask(other)
        equal(code(answer), "AE", "another message of that number")
        holds(b"205^" in answer, "duplicate key")
        equal(s.values(), ["MF-26-0901"], "nothing of it is stored")
        equal([each.read_bytes() for each in s.aside() if each.suffix == ".hl7"], [other], "but kept")
        equal(code(sender.ask(changed(other, MSH_3=b"OTHER"))), "AA", "of another sender")
    with Messages("forgets", mllp="remember_days = 0\n") as s, s.sender() as sender:
        equal(code(sender.ask(ONE)), "AA")
        equal(code(sender.ask(other)), "AA", "numbers are not looked at")


@case
def enhanced_mode_answers_as_it_is_asked():
    with Messages("enhanced") as s, s.sender() as sender:
        both = changed(numbered("E1"), MSH_15=b"AL", MSH_16=b"AL")
        sender.send(framed(both))
        equal([code(sender.answer()) for _ in range(2)], ["CA", "AA"])
        sender.send(framed(changed(numbered("E2"), MSH_15=b"NE", MSH_16=b"NE")))
        equal(code(sender.ask(changed(numbered("E3"), MSH_15=b"AL", MSH_16=b"NE"))), "CA", "E2 was not answered")
        sender.send(framed(changed(BAD, MSH_15=b"AL", MSH_16=b"ER")))
        equal([code(sender.answer()) for _ in range(2)], ["CA", "AE"])
        equal(code(sender.ask(changed(numbered("E4"), MSH_15=b"AL", MSH_11=b"T"))), "CR")
        equal(s.values(), ["E1", "E2", "E3"])


@case
def character_sets_are_read_as_the_message_says():
    with Messages("charset", destinations=Service.FOLDER.replace("logical", "create")) as s, s.sender() as sender:
        names = {"UNICODE UTF-8": "Zoë Müller".encode(), "8859/1": "Zoë Müller".encode("latin-1")}
        for number, (charset, name) in enumerate(names.items()):
            given, family = name.split(b" ")
            message = changed(numbered(f"U{number}"), MSH_18=charset.encode(), PID_5=family + b"^" + given)
            equal(code(sender.ask(message)), "AA", charset)
        wrong = changed(numbered("U9"), MSH_18=b"ASCII", PID_5=b"M\xfcller^Zo\xeb")
        equal(code(sender.ask(wrong)), "AE", "a byte that is none of it")
        equal(s.values(), ["U0", "U1"])
        for row in s.rows():
            bundle = s.curl(f"/assessments/{row['row']}/bundle").json()
            holds("Müller" in json.dumps(bundle, ensure_ascii=False), "the name")


@case
def corrections_and_withdrawals_take_the_way_of_those_from_files():
    with Messages("corrections") as s, s.sender() as sender:
        equal(code(sender.ask(ONE)), "AA")
        holds(s.until(lambda: s.metric('footbridge_deliveries_total{outcome="delivered"}') == 1), "not delivered")
        changed_value = ONE.replace(b"|138|", b"|140|") if b"|138|" in ONE else ONE.replace(b"|120|", b"|122|")
        holds(changed_value != ONE, "the example has that value")
        equal(code(sender.ask(changed(changed_value, MSH_10=b"again"))), "AE", "other content, not said to correct")
        correction = changed(changed_value, MSH_10=b"K2", OBR_25=b"C", OBR_22=b"202610060900+0100")
        answer = sender.ask(correction)
        equal(code(answer), "AA", answer)
        withdrawal = changed(ONE, MSH_10=b"K3", OBR_25=b"X", OBR_22=b"202610070900+0100")
        equal(code(sender.ask(withdrawal)), "AA")
        holds(s.until(lambda: s.metric('footbridge_deliveries_total{outcome="delivered"}') == 3), "not delivered")
        rows = s.rows()
        holds(rows[0]["revision"] == 1 and rows[0]["revision"] < rows[1]["revision"] < rows[2]["revision"], "revisions")
        last = s.curl(f"/assessments/{rows[2]['row']}/bundle").body
        holds("entered-in-error" in last, "the withdrawal withdraws")
        equal([code(sender.ask(each)) for each in (correction, withdrawal)], ["AA", "AA"], "again")
        equal(len(s.rows()), 3)


@case
def who_is_slow_or_silent_is_cut_off():
    with Messages("slow", mllp="frame_milliseconds = 600\nidle_milliseconds = 1500\n") as s:
        with s.sender(wait=10) as dripping, s.sender(wait=10) as idle, s.sender(wait=10) as noisy:
            began = time.time()
            dripping.send(b"\x0bMSH|")
            try:
                while time.time() - began < 5:
                    time.sleep(0.1)
                    dripping.send(b"x")
                dripping_for = time.time() - began
            except OSError:
                dripping_for = time.time() - began
            holds(dripping_for < 2.5, f"a dripping frame was borne for {dripping_for:.1f} s")
            try:
                while time.time() - began < 6:
                    noisy.send(b"x")
                    time.sleep(0.1)
            except OSError:
                pass
            holds(1 < time.time() - began < 5, "noise between frames does not keep a connection")
            holds(idle.closed(), "an idle one is closed")
        with s.sender() as sender:
            equal(code(sender.ask(ONE)), "AA", "others are served")
        equal(len(s.values()), 1)
    with Messages("lasting") as s, s.sender() as sender:
        equal(code(sender.ask(numbered("i1"))), "AA")
        time.sleep(2.5)
        equal(code(sender.ask(numbered("i2"))), "AA", "without a time for idling it stays")


@case
def connections_are_capped_and_idle_ones_make_room():
    with Messages("cap", mllp="connections = 3\n") as s:
        first = [s.sender() for _ in range(3)]
        time.sleep(0.3)
        with s.sender() as late:
            equal(code(late.ask(ONE)), "AA", "the fourth")
        holds(any(each.closed() for each in first[:1]), "the one that was idle for longest went")
        for each in first:
            each.sock.close()
    # Who has begun a message and was never answered keeps nobody out; who was answered stays.
    with Messages("crowd", mllp="connections = 3\n") as s, s.sender() as known:
        equal(code(known.ask(numbered("k1"))), "AA")
        known.send(framed(numbered("k2"))[:50])
        strangers = []
        for _ in range(5):
            strangers.append(s.sender())
            strangers[-1].send(framed(ONE)[:20])
            time.sleep(0.1)
        with s.sender() as late:
            equal(code(late.ask(ONE)), "AA", "beside strangers who began and stopped")
        known.send(framed(numbered("k2"))[50:])
        equal(code(known.answer()), "AA", "who was answered before stays")
        for each in strangers:
            each.sock.close()


@case
def half_closed_connections_get_their_answers():
    with Messages("half") as s, s.sender() as sender:
        sender.send(framed(numbered("h1")) + framed(numbered("h2")) + framed(numbered("h3"))[:100])
        sender.sock.shutdown(socket.SHUT_WR)
        equal([of(sender.answer()) for _ in range(2)], [b"Ch1", b"Ch2"])
        holds(sender.closed(), "then it is closed")
        equal(s.values(), ["h1", "h2"])


def tls(folder, name=None, authority="ca"):
    context = ssl.create_default_context(cafile=str(folder / f"{authority}.pem"))
    if name:
        context.load_cert_chain(folder / f"{name}.pem", folder / f"{name}.key")
    return context


@case
def with_tls_only_known_senders_are_heard():
    made = certificates(WORK / "tls-certificates")
    mllp = "".join(f'{key} = "{made}/{name}"\n' for key, name in (
        ("certificate_file", "server.pem"), ("certificate_key_file", "server.key"), ("client_ca_file", "ca.pem")))
    with Messages("tls", mllp=mllp) as s:
        with s.sender(context=tls(made, "client")) as sender:
            for byte in framed(ONE)[:50]:
                sender.send(bytes([byte]))
            equal(code(sender.send(framed(ONE)[50:]).answer()), "AA")
        for what, context in (("of a stranger", tls(made, "stranger")), ("none", tls(made)),
                              ("of another server", tls(made, "client", "strange-ca"))):
            try:
                with s.sender(context=context) as sender:
                    answer = sender.ask(numbered("T1"))
                holds(answer is None, f"certificate {what}: {answer!r:.80}")
            except (ssl.SSLError, ConnectionError):
                pass
        with s.sender(wait=15) as sender:
            try:
                holds(sender.ask(numbered("T2")) is None, "without TLS")
            except (ConnectionError, AssertionError):
                pass
        equal(s.values(), ["MF-26-0901"])
        trail = (s.work / "data/audit.log").read_text()
        holds("/CN=client" in trail, "the trail names the sender by its certificate")


@case
def an_address_that_others_reach_needs_certificates_of_both():
    made = certificates(WORK / "address-certificates")
    own = f'certificate_file = "{made}/server.pem"\ncertificate_key_file = "{made}/server.key"\n'
    for mllp, told in (('address = "0.0.0.0"\n', "needs TLS with certificates of the senders"),
                       (f'address = "0.0.0.0"\n{own}', "needs TLS with certificates of the senders"),
                       ('address = "clinic"\n', "not a name"), ('mapp = "x"\n', "Did you mean map?"),
                       (f'client_ca_file = "{made}/ca.pem"\n', "by TLS only")):
        s = Messages("address", mllp=mllp)
        done = s.run("serve")
        equal(done.returncode, 2, told)
        holds(told in done.stderr, f"{told}: {done.stderr}")
    s = Messages("address")
    text = (s.work / "footbridge.toml").read_text()
    for name, told in (("nothing", "There is no source map"), ("table", "is not one of messages")):
        (s.work / "footbridge.toml").write_text(text.replace('map = "clinic"', f'map = "{name}"').replace(
            "[serve.maps]\n", f'[serve.maps]\ntable = "{TOP}/examples/csv/visits.toml"\n'))
        done = s.run("serve")
        equal(done.returncode, 2, told)
        holds(told in done.stderr, f"{told}: {done.stderr}")


@case
def many_senders_at_once():
    with Messages("many") as s:
        answers = []

        def client(who):
            with s.sender(wait=60) as sender:
                for i in range(20):
                    answers.append((code(sender.ask(numbered(f"N{who}-{i}"))), who))

        threads = [threading.Thread(target=client, args=(who,)) for who in range(16)]
        for each in threads:
            each.start()
        for each in threads:
            each.join()
        equal([each for each, _ in answers], ["AA"] * 320)
        equal(len(set(s.values())), 320)


@case
def what_python3_hl7_sends_is_answered_in_its_terms():
    script = WORK / "client.py"
    script.write_text("import sys\nfrom hl7.client import MLLPClient\nimport hl7\n"
                      "with MLLPClient('127.0.0.1', int(sys.argv[1])) as client:\n"
                      "    for path in sys.argv[2:]:\n"
                      "        message = hl7.parse(open(path, 'rb').read().decode())\n"
                      "        got = hl7.parse(client.send_message(message).strip(b'\\x0b\\x1c\\r').decode())\n"
                      "        print(got['MSA'][0][1], got['MSA'][0][2], got['MSH'][0][9])\n")
    (WORK / "sent.hl7").write_bytes(ONE)
    (WORK / "sent-bad.hl7").write_bytes(BAD)
    with Messages("peer") as s:
        done = subprocess.run(["/usr/bin/python3", str(script), str(s.mllp), str(WORK / "sent.hl7"),
                               str(WORK / "sent-bad.hl7")], capture_output=True, text=True, timeout=60)
        equal(done.returncode, 0, done.stderr[-300:])
        equal(done.stdout.splitlines(), [f"AA {field(ONE, b'MSH', 10).decode()} ACK^R01^ACK",
                                         f"AE {field(BAD, b'MSH', 10).decode()} ACK^R01^ACK"])


@case
def mllp_send_is_answered():
    with Messages("send") as s:
        # It wants files in which each line is a segment, and leaves out the last return.
        (WORK / "lines.hl7").write_bytes(numbered("send").replace(b"\r", b"\r\n"))
        done = subprocess.run(["mllp_send", "--loose", "--port", str(s.mllp), "--file", str(WORK / "lines.hl7"),
                               "127.0.0.1"], capture_output=True, text=True, timeout=60)
        holds("MSA|AA|Csend" in done.stdout, f"{done.stdout!r} {done.stderr[-300:]}")
        equal(s.values(), ["send"])


@case
def a_stop_answers_what_was_begun_and_nothing_else():
    s = Messages("stop").start()
    with s.sender(wait=30) as sender, s.sender(wait=30) as idle:
        count = 300
        sender.send(b"".join(framed(numbered(f"S{i}")) for i in range(count)))
        first = sender.answer()
        s.process.terminate()
        answered = [of(first)]
        while (answer := sender.answer()) is not None:
            answered.append(of(answer))
        holds(idle.closed(), "idle ones are closed")
    equal(s.process.wait(40), 0, "exit code")
    equal(answered, [f"CS{i}".encode() for i in range(len(answered))], "order")
    with s, s.sender() as sender:
        stored = set(s.values())
        holds({name.decode()[1:] for name in answered} <= stored, "acknowledged and lost")
        for i in range(count):
            equal(code(sender.ask(numbered(f"S{i}"))), "AA")
        equal(len(s.values()), count, "rows")


@case
def a_service_that_is_killed_keeps_exactly_what_it_acknowledged():
    total = int(os.environ.get("FOOTBRIDGE_MLLP_MESSAGES", "600"))
    kills = int(os.environ.get("FOOTBRIDGE_MLLP_KILLS", "5"))
    random.seed(11)
    s = Messages("kill").start()
    todo = [f"K{i}" for i in range(total)]
    random.shuffle(todo)
    lock, acknowledged, over = threading.Lock(), set(), threading.Event()

    def client():
        while not over.is_set():
            name = None
            try:
                with s.sender(wait=20) as sender:
                    while True:
                        with lock:
                            if not todo:
                                return
                            name = todo.pop()
                        answer = sender.ask(numbered(name))
                        if answer is None:
                            raise ConnectionError
                        if code(answer) != "AA" or of(answer) != b"C" + name.encode():
                            raise AssertionError(answer)
                        with lock:
                            acknowledged.add(name)
            except OSError:
                # Not known whether it was taken: it is sent again.
                if name is not None and name not in acknowledged:
                    with lock:
                        todo.append(name)
                time.sleep(0.05)

    threads = [threading.Thread(target=client) for _ in range(8)]
    for each in threads:
        each.start()
    for number in range(kills):
        goal = total * (number + 1) // (kills + 1)
        while len(acknowledged) < goal and any(each.is_alive() for each in threads):
            time.sleep(0.005)
        time.sleep(random.uniform(0, 0.05))
        s.kill()
        with lock:
            before = set(acknowledged)
        s.start()
        holds(before <= set(s.values()) or number % 10, "acknowledged and lost")
    for each in threads:
        each.join()
    over.set()
    equal(len(acknowledged), total, "acknowledged")
    s.stop()
    # Seen from outside, by a program that reads the outbox anew.
    rows = [json.loads(line) for state in ((), ("--state", "delivered"))
            for line in s.run("outbox", "list", "--json", *state).stdout.splitlines()]
    names = [row["assessment"]["value"] for row in rows]
    equal(len(names), len(set(names)), "something is there twice")
    equal(set(names), acknowledged, "what is there and what was acknowledged")
    listed = subprocess.run([sys.executable, "-c", "import sqlite3, sys\n"
                             "print(*sqlite3.connect(sys.argv[1]).execute('SELECT (SELECT count(*) FROM delivery), "
                             "(SELECT count(*) FROM message)').fetchone())", str(s.work / "data/outbox.db")],
                            capture_output=True, text=True)
    equal(listed.stdout.split(), [str(total), str(total)], f"rows and numbers {listed.stderr}")
    equal(s.run("audit", "verify").returncode, 0, "the trail")
    print(f"       {total} messages, {kills} kills")


@case
def nothing_about_patients_is_in_journal_trail_and_metrics():
    words = {field(ONE, b"PID", 3).split(b"^")[0].decode(), field(ONE, b"PID", 5).split(b"^")[0].decode(),
             field(ONE, b"PID", 7).decode(), "MF-26-0901"}
    holds(all(len(word) > 3 for word in words), f"{words}")
    with Messages("leaks") as s, s.sender() as sender:
        for message in (ONE, BAD, changed(ONE, MSH_10=b"2", OBR_25=b"C"), ONE.replace(b"\r", b"\rJUNK\r")):
            sender.ask(message)
        text = s.curl("/metrics").body
        s.stop()
        text += s.log() + (s.work / "data/audit.log").read_text()
    equal(text.count('"MLLP message"') >= 8, True, "each is in journal and trail")
    equal({word for word in words if word in text}, set(), "patient data")


if __name__ == "__main__":
    main(sys.argv[2:], lambda: shutil.rmtree(WORK, ignore_errors=True))
