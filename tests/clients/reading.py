#!/usr/bin/env python3
"""Appends a core temperature and prints what is told of the batch before and after.

reading.py SERVICE FEED FARM BATCH TEMPERATURE_C, with an API key in BAYCAST_KEY where the service needs one.
"""

import json
import os
import sys
import time
from datetime import datetime, timezone
from urllib.parse import quote
from urllib.request import Request, urlopen


def told(feed: str, batch: str) -> dict:
    """What the feed tells of a batch, once nothing is being worked out anew."""
    while True:
        with urlopen(f"{feed}/readiness.json", timeout=30) as answer:
            readiness = json.load(answer)
        if readiness["pending"] == 0:
            return next(own for own in readiness["batches"] if own["batch"] == batch)
        time.sleep(1)


def append(service: str, farm: str, batch: str, temperature_c: float) -> None:
    """Records a reading of now, once however often it is sent within a minute."""
    now = datetime.now(timezone.utc).replace(microsecond=0)
    reading = {"at": now.isoformat(), "reading": {"temperature_c": temperature_c, "depth_m": 0.5}}
    headers = {"content-type": "application/json", "idempotency-key": f"py {batch} {now:%Y-%m-%dT%H:%M}"}
    if key := os.environ.get("BAYCAST_KEY"):
        headers["authorization"] = f"Bearer {key}"
    path = f"/v1/farms/{quote(farm, safe='')}/batches/{quote(batch, safe='')}/events"
    body = json.dumps({"entries": [{"event": reading}]}).encode()
    with urlopen(Request(service + path, body, headers), timeout=30) as answer:
        answer.read()


def main() -> None:
    service, feed, farm, batch, temperature_c = sys.argv[1:]
    before = told(service + feed, batch)
    append(service, farm, batch, float(temperature_c))
    after = told(service + feed, batch)
    beds = next(window for window in after["windows"] if window["use"] == "bed_dressing")
    core_c = [round(own["now"]["core_c"]["p50"], 1) for own in (before, after)]
    print(f"{batch}: {after['stage']}, core {core_c[0]:g} to {core_c[1]:g} °C, "
          f"beds from {beds['opens']['p50'] or 'beyond the horizon'}")


main()
