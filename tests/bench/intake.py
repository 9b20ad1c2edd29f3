#!/usr/bin/env python3
"""How fast `footbridge serve` takes in, delivers, and answers beside people who misbehave.

    intake.py --program FOOTBRIDGE --work DIR [--seconds N] [--runs N] [--flushes US,US,...]

1. Durable intake: 64 clients of wrk post assessments of 2 kB, each answered once it is on the disk; beside it, in
   the same run and on the same disk, SQLite alone storing the same bytes with one transaction a row: bare, that is
   as it comes (a rollback journal, synchronous=FULL), and with the settings of the outbox (a write-ahead log). With
   --flushes the same once more for each of these disks, whose flushes take so many microseconds longer for all.
2. Intake to delivered: the same with a record server that stores nothing, until everything is delivered; beside
   it libcurl alone posting the finished bundles to the same server.
3. Neighbours: the same small request, first alone, then beside 2,000 idle connections and 50 that send one byte
   now and then.
"""
import argparse
import json
import os
import pathlib
import shutil
import socket
import sqlite3
import statistics
import subprocess
import sys
import time
import urllib.request

HERE = pathlib.Path(__file__).resolve().parent
TOP = HERE.parents[1]


def assessment():
    """The example of a home visit without blanks, some 2 kB; @ID@ stands for its identifier and its patient's."""
    read = json.loads((TOP / "examples/clinic/11-home-visit-seated.json").read_text())
    read["identifier"]["value"] = "@ID@"
    # Visits of one patient are delivered one after another: each is of another.
    read["patient"]["identifiers"] = [{"system": "https://clinic.example/patients", "value": "@ID@"}]
    return json.dumps(read, separators=(",", ":"), ensure_ascii=False)


def on_disk(work, flush):
    """The environment in which each flush takes so many microseconds longer."""
    if not flush:
        return dict(os.environ)
    shim = work / "slow_disk.so"
    if not shim.exists():
        subprocess.run(["c++", "-std=c++20", "-O2", "-shared", "-fPIC", "-o", str(shim), str(HERE / "slow_disk.cpp"),
                        "-ldl"], check=True)
    return dict(os.environ, LD_PRELOAD=str(shim), FLUSH_MICROSECONDS=str(flush))


class Service:
    def __init__(self, program, work, destination, serve="", env=None):
        shutil.rmtree(work, ignore_errors=True)
        work.mkdir(parents=True)
        (work / "footbridge.toml").write_text('data = "data"\n' + destination +
                                              '[serve]\nport = 0\nport_file = "port"\n' + serve)
        self.work = work
        self.process = subprocess.Popen([program, "serve"], cwd=work, env=env, stderr=open(work / "log", "w"))
        while not (work / "port").exists():
            if self.process.poll() is not None:
                sys.exit("the service did not start: " + (work / "log").read_text())
            time.sleep(0.02)
        self.port = int((work / "port").read_text())
        self.base = f"http://127.0.0.1:{self.port}"

    def metrics(self):
        return urllib.request.urlopen(self.base + "/metrics").read().decode()

    def metric(self, name):
        return sum(float(line.rsplit(" ", 1)[1]) for line in self.metrics().splitlines() if line.startswith(name))

    def stop(self):
        self.process.terminate()
        self.process.wait(60)


def wrk(service, body, clients, seconds, run):
    env = dict(os.environ, BODY=str(body), RUN=run)
    out = subprocess.run(["wrk", "-t1", f"-c{clients}", f"-d{seconds}s", "-s", str(HERE / "intake.lua"),
                          service.base], env=env, capture_output=True, text=True, check=True).stdout
    result = next(line for line in out.splitlines() if line.startswith("RESULT")).split()[1:]
    requests, microseconds, p50, p99, bad = map(int, result)
    if bad:
        sys.exit("intake: some were not stored:\n" + out)
    return requests * 1e6 / microseconds, p50 / 1000, p99 / 1000


# Those of bridge/outbox/sql.cpp that bear on what a row costs.
OUTBOX = ("locking_mode=EXCLUSIVE", "journal_mode=WAL", "synchronous=FULL", "wal_autocheckpoint=4000",
          "journal_size_limit=67108864", "secure_delete=ON")


def bare_sqlite(work, text, seconds, settings):
    """Rows a second, each in a transaction of its own."""
    file = work / "bare.db"
    for each in work.glob("bare.db*"):
        each.unlink()
    database = sqlite3.connect(file, isolation_level=None)
    for setting in settings:
        database.execute(f"PRAGMA {setting}")
    database.execute("CREATE TABLE t (id INTEGER PRIMARY KEY, body BLOB)")
    count, end, body = 0, time.perf_counter() + seconds, text.encode()
    began = time.perf_counter()
    while time.perf_counter() < end:
        database.execute("INSERT INTO t (body) VALUES (?)", (body,))
        count += 1
    return count / (time.perf_counter() - began)


def bare_in(env, work, body, seconds, settings=()):
    """The same in a process of its own, on that disk."""
    return float(subprocess.run([sys.executable, __file__, "--bare", str(work), str(body), str(seconds), *settings],
                                env=env, capture_output=True, text=True, check=True).stdout)


def told(name, rates):
    """The median of the rates, after saying all of them."""
    rate = statistics.median(rates)
    print(f"{name}: {rate:.0f}/s (from {min(rates):.0f} to {max(rates):.0f}), {1e6 / rate:.0f} us each")
    return rate


def intake(options, work, body, flush=0):
    env = on_disk(work, flush)
    rates, halves, tails, bares, tuned = [], [], [], [], []
    for run in range(options.runs):
        bares.append(bare_in(env, work, body, options.seconds))
        tuned.append(bare_in(env, work, body, options.seconds, OUTBOX))
        service = Service(options.program, work / "service",
                          '[destinations.gp]\nkind = "server"\nbase = "http://127.0.0.1:9"\n', env=env)
        try:
            rate, p50, p99 = wrk(service, body, 64, options.seconds, f"i{run}")
        finally:
            service.stop()
        rates.append(rate)
        halves.append(p50)
        tails.append(p99)
    if flush:
        print(f"where a flush takes {flush} us longer:")
    mine = told("durable intake, 64 clients", rates)
    print(f"p50 {statistics.median(halves):.1f} ms (bar 8), p99 {statistics.median(tails):.1f} ms")
    bare = told("bare SQLite, one row a transaction", bares)
    with_log = told("SQLite with the settings of the outbox, one row a transaction", tuned)
    print(f"ratio {mine / bare:.2f} to bare SQLite (bar 3), {mine / with_log:.2f} to SQLite with the settings of the "
          "outbox", flush=True)


def delivered(options, work, body):
    for name in ("sink", "bare"):
        subprocess.run(["c++", "-std=c++20", "-O2", "-o", str(work / name), str(HERE / f"{name}.cpp"), "-lcurl"],
                       check=True)
    (work / "port").unlink(missing_ok=True)
    sink = subprocess.Popen([str(work / "sink"), str(work / "port")])
    try:
        while not (work / "port").exists() or not (work / "port").read_text().strip():
            time.sleep(0.02)
        base = "http://127.0.0.1:" + (work / "port").read_text().strip()
        rates, bares = [], []
        for run in range(options.runs):
            service = Service(options.program, work / "service",
                              f'[destinations.gp]\nkind = "server"\nbase = "{base}"\nidentity = "trust"\nread_back = "never"\n')
            try:
                began = time.perf_counter()
                rate, _, _ = wrk(service, body, 64, options.seconds, f"d{run}")
                stored = service.metric('footbridge_intake_assessments_total{outcome="stored"}')
                while service.metric('footbridge_deliveries_total{outcome="delivered"}') < stored:
                    time.sleep(0.02)
                rates.append(stored / (time.perf_counter() - began))
            finally:
                service.stop()
            bundles = work / "bundles.ndjson"
            lines = [body.read_text().replace("@ID@", f"b{i}") for i in range(2000)]
            made = subprocess.run([options.program, "convert", "--quiet", "--from", "ndjson"], capture_output=True,
                                  input="\n".join(lines), text=True, check=True).stdout
            bundles.write_text(made)
            out = subprocess.run([str(work / "bare"), base, str(bundles), "8"], capture_output=True, text=True,
                                 check=True).stdout
            bares.append(len(lines) / float(out.split()[0]))
    finally:
        sink.kill()
        sink.wait()
    mine, bare = statistics.median(rates), statistics.median(bares)
    print(f"intake to delivered: {mine:.0f}/s (from {min(rates):.0f} to {max(rates):.0f}), bundles of "
          f"{len(made) / len(lines) / 1024:.0f} kB; libcurl alone {bare:.0f}/s; ratio {mine / bare:.2f} (bar 0.3)")


def quick(service, count):
    """p50 and p99 of a small request on a connection that stays, in milliseconds"""
    with socket.create_connection(("127.0.0.1", service.port)) as sock:
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        times = []
        for _ in range(count):
            began = time.perf_counter()
            sock.sendall(b"GET /health/ready HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            got = b""
            while b"}" not in got:
                got += sock.recv(4096)
            times.append((time.perf_counter() - began) * 1000)
    times.sort()
    return times[count // 2], times[int(count * 0.99)]


def crowd(port):
    """2,000 connections that say nothing, and 50 that say a byte now and then; until ended."""
    idle = [socket.create_connection(("127.0.0.1", port)) for _ in range(2000)]
    slow = [socket.create_connection(("127.0.0.1", port)) for _ in range(50)]
    text = b"POST /assessments HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 100000\r\n"
    print("there", flush=True)
    for at in range(len(text)):
        for sock in slow:
            try:
                sock.send(text[at:at + 1])
            except OSError:
                pass
        time.sleep(0.05)
    del idle


def neighbours(options, work):
    service = Service(options.program, work / "service",
                      f'[destinations.box]\nkind = "folder"\npath = "{work}/box"\n')
    try:
        quick(service, 500)
        quiet = quick(service, 20_000)
        others = subprocess.Popen([sys.executable, __file__, "--crowd", str(service.port)], stdout=subprocess.PIPE)
        try:
            others.stdout.readline()
            beside = quick(service, 20_000)
        finally:
            others.kill()
            others.wait()
    finally:
        service.stop()
    print(f"alone: p50 {quiet[0]:.2f} ms, p99 {quiet[1]:.2f} ms; beside 2,000 idle and 50 slow connections: "
          f"p50 {beside[0]:.2f} ms, p99 {beside[1]:.2f} ms; ratio of p99 {beside[1] / quiet[1]:.1f} (bar 3)")


def main():
    if sys.argv[1:2] == ["--crowd"]:
        return crowd(int(sys.argv[2]))
    if sys.argv[1:2] == ["--bare"]:
        return print(bare_sqlite(pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3]).read_text(), int(sys.argv[4]),
                                 sys.argv[5:]))
    parser = argparse.ArgumentParser()
    parser.add_argument("--program", required=True)
    parser.add_argument("--work", required=True)
    parser.add_argument("--seconds", type=int, default=5)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--flushes", default="", help="microseconds, separated by commas")
    parser.add_argument("--only", choices=["intake", "delivered", "neighbours"])
    options = parser.parse_args()
    options.program = str(pathlib.Path(options.program).resolve())
    work = pathlib.Path(options.work).resolve()
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir(parents=True)
    body = work / "body.json"
    body.write_text(assessment())
    print(f"an assessment of {body.stat().st_size} bytes")
    if options.only in (None, "intake"):
        for flush in [0, *map(int, filter(None, options.flushes.split(",")))]:
            intake(options, work, body, flush)
    if options.only in (None, "delivered"):
        delivered(options, work, body)
    if options.only in (None, "neighbours"):
        neighbours(options, work)


if __name__ == "__main__":
    main()
