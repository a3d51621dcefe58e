"""Clients of two replicas behind a proxy, one of which is stopped while they write.

Usage: behind_proxy.py HOST PORT AUTHORITY.pem KEY PROTO_FOLDER

Says "stop one" when one is to be stopped and goes on once told that it was. What it saw is its last line, as JSON.
"""

import importlib
import json
import queue
import ssl
import sys
import tempfile
import threading
import time
from http.client import HTTPException, HTTPSConnection
from pathlib import Path

import grpc
from grpc_client import build

HOST, PORT, AUTHORITY, KEY, PROTO = sys.argv[1:6]
FARM = "/v1/farms/home"
BATCH = f"{FARM}/batches/heap"
WRITERS, READERS, CHANGES = 4, 2, 5
# How long clients go on before and after one replica is stopped, s.
BEFORE_S, AFTER_S = 1.5, 3.0
# Longest time for anything, s.
PATIENCE_S = 60


class Client:
    """One connection over TLS, made anew where it was cut off."""

    def __init__(self):
        self.context = ssl.create_default_context(cafile=AUTHORITY)
        self.connection = None

    def open(self, method, path, body=None, headers=None):
        """Sends a request and hands back the answer, its body unread."""
        if self.connection is None:
            self.connection = HTTPSConnection(HOST, int(PORT), timeout=PATIENCE_S, context=self.context)
        own = {"authorization": f"Bearer {KEY}", "content-type": "application/json", **(headers or {})}
        try:
            self.connection.request(method, path, None if body is None else json.dumps(body), own)
            return self.connection.getresponse()
        except (HTTPException, OSError):
            self.connection.close()
            self.connection = None
            raise

    def send(self, method, path, body=None, headers=None):
        """Status and body of the answer."""
        answer = self.open(method, path, body, headers)
        text = answer.read()
        kind = answer.headers.get("content-type", "")
        if "json" not in kind:
            raise SystemExit(f"{method} {path}: {answer.status} {kind} {text[:200]}")
        return answer.status, json.loads(text)

    def good(self, method, path, body=None, headers=None):
        """Body of an answer that is good."""
        status, answer = self.send(method, path, body, headers)
        if status not in (200, 201):
            raise SystemExit(f"{method} {path}: {status} {answer}")
        return answer


def reading(temperature_c):
    """An append of one reading."""
    return {"entries": [{"event": {"at": "2026-10-09", "reading": {"temperature_c": temperature_c}}}]}


def plant(client):
    """A farm with one batch that has something in it."""
    site = {"latitude_deg": 52}
    client.good("POST", "/v1/farms", {"id": "home", "name": "", "site": site, "time_zone": "Etc/UTC"})
    bay = {"id": "bay", "length_m": 1.2, "width_m": 1.2, "height_m": 1.2, "wall": {"construction": "slatted_timber"}}
    client.good("POST", f"{FARM}/bays", {"bay": bay})
    client.good("POST", f"{FARM}/batches", {"id": "heap", "start_bay": "bay"})
    fill = {"at": "2026-10-01", "addition": {"feedstock": "grass_mowings", "mass_kg": 300}}
    client.good("POST", f"{BATCH}/events", {"entries": [{"event": fill}]})


def recorded(client):
    """Every event of the batch, by its id."""
    events, token = {}, ""
    while True:
        page = client.good("GET", f"{BATCH}/events?shown=all&page_size=1000&page_token={token}")
        for item in page["items"]:
            if item["id"] in events:
                raise SystemExit(f"{item['id']} is listed twice")
            events[item["id"]] = item["event"].get("reading", {}).get("temperature_c")
        token = page.get("next_page_token")
        if not token:
            return events


def over_grpc():
    """Health, one call and the first message of a stream, over the same port."""
    metadata = [("authorization", f"Bearer {KEY}")]
    credentials = grpc.ssl_channel_credentials(Path(AUTHORITY).read_bytes())
    with tempfile.TemporaryDirectory() as folder, grpc.secure_channel(f"{HOST}:{PORT}", credentials) as channel:
        build(PROTO, folder)
        records = importlib.import_module("baycast.v1.records_pb2_grpc").RecordsServiceStub(channel)
        maturity = importlib.import_module("baycast.v1.maturity_pb2_grpc").MaturityServiceStub(channel)
        asked = importlib.import_module("baycast.v1.batch_pb2").GetBatchRequest(farm="home", batch="heap")
        watched = importlib.import_module("baycast.v1.readiness_pb2").WatchReadinessRequest(farm="home")
        health = channel.unary_unary("/grpc.health.v1.Health/Check")
        if health(b"", timeout=PATIENCE_S) != b"\x08\x01":
            raise SystemExit("not serving")
        batch = records.GetBatch(asked, metadata=metadata, timeout=PATIENCE_S).batch
        stream = maturity.WatchReadiness(watched, metadata=metadata, timeout=PATIENCE_S)
        whole = next(iter(stream)).readiness
        stream.cancel()
        return batch.id, whole.sequence


def refused_over_grpc():
    """The status of a call without a key: the server's own, with its words."""
    credentials = grpc.ssl_channel_credentials(Path(AUTHORITY).read_bytes())
    with grpc.secure_channel(f"{HOST}:{PORT}", credentials) as channel:
        try:
            channel.unary_unary("/baycast.v1.RecordsService/ListFarms")(b"", timeout=PATIENCE_S)
        except grpc.RpcError as error:
            return error.code().name
    return "OK"


def watch(heard):
    """Puts each server-sent event into a queue, with when it came."""
    answer = Client().open("GET", f"{FARM}/readiness:watch")
    name = None
    for line in answer:
        if line.startswith(b"event: "):
            name = line[7:].strip().decode()
        elif line == b"\n" and name:
            heard.put((name, time.monotonic()))
            name = None


def changes(client):
    """How long after its append was answered each change was told, s."""
    heard, took = queue.Queue(), []
    threading.Thread(target=watch, args=(heard,), daemon=True).start()
    if heard.get(timeout=PATIENCE_S)[0] != "readiness":
        raise SystemExit("the whole comes first")
    for number in range(CHANGES):
        client.good("POST", f"{BATCH}/events", reading(40.0 + number))
        answered = time.monotonic()
        name, told = heard.get(timeout=PATIENCE_S)
        if name != "change":
            raise SystemExit(f"{name} in place of a change")
        took.append(told - answered)
    return took


class Course:
    """Clients that write and read until it is over."""

    def __init__(self):
        self.over = threading.Event()
        self.lock = threading.Lock()
        self.acknowledged = {}
        self.again = 0
        self.read = 0
        self.unread = []
        self.faults = []
        every = [(self.write, number) for number in range(WRITERS)] + [(self.look, None)] * READERS
        self.threads = [threading.Thread(target=self.guard, args=one) for one in every]
        for thread in self.threads:
            thread.start()

    def guard(self, work, number):
        """Notes what made a client give up."""
        try:
            work(number)
        except BaseException as fault:  # noqa: B036
            self.faults.append(repr(fault))

    def write(self, number):
        """Appends readings, each under a key of its own, and asks again where there was no answer."""
        client, count = Client(), 0
        while not self.over.is_set():
            count += 1
            temperature_c = 20 + number * 10 + count / 1000
            headers = {"idempotency-key": f'"w{number}-{count}"'}
            until = time.monotonic() + PATIENCE_S
            while True:
                try:
                    status, answer = client.send("POST", f"{BATCH}/events", reading(temperature_c), headers)
                except (HTTPException, OSError):
                    status, answer = None, None
                if status == 200:
                    break
                if status not in (None, 503) or time.monotonic() > until:
                    raise SystemExit(f"{status} {answer}")
                with self.lock:
                    self.again += 1
                time.sleep(0.1)
            with self.lock:
                self.acknowledged[answer["items"][0]["id"]] = temperature_c

    def look(self, _):
        """Reads: no answer to this may be missing, since the proxy asks the other replica itself."""
        client = Client()
        while not self.over.is_set():
            try:
                status, _ = client.send("GET", BATCH)
            except (HTTPException, OSError) as fault:
                status = repr(fault)
            with self.lock:
                self.read += 1
                if status != 200:
                    self.unread.append(status)
            time.sleep(0.005)

    def end(self):
        """Waits until every client has been answered."""
        self.over.set()
        for thread in self.threads:
            thread.join(PATIENCE_S)


def main():
    """Everything in turn."""
    client = Client()
    plant(client)
    written = client.good("POST", f"{BATCH}/events", reading(58.5))["items"][0]["id"]
    if recorded(client).get(written) != 58.5:
        raise SystemExit("what was written is not read back")
    seen = {"refused": refused_over_grpc(), "batch": over_grpc()[0], "changes_s": changes(client)}
    before = len(recorded(client))
    course = Course()
    time.sleep(BEFORE_S)
    print("stop one", flush=True)
    if sys.stdin.readline().strip() != "stopped":
        raise SystemExit("no replica was stopped")
    with course.lock:
        until_then = len(course.acknowledged)
    time.sleep(AFTER_S)
    course.end()
    events = recorded(client)
    lost = [id for id, temperature_c in course.acknowledged.items() if events.get(id) != temperature_c]
    seen |= {
        "acknowledged": len(course.acknowledged),
        "after": len(course.acknowledged) - until_then,
        "more": len(events) - before - len(course.acknowledged),
        "lost": lost,
        "again": course.again,
        "read": course.read,
        "unread": course.unread,
        "faults": course.faults,
    }
    print(json.dumps(seen))


if __name__ == "__main__":
    main()
