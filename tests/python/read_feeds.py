"""What parsers that know nothing of the service read in its calendar and its Atom feed, as JSON.

read_feeds.py calendar FILE: the events as `icalendar` and as `vobject` read them.
read_feeds.py atom FILE: the feed as `feedparser` reads it.
"""

import json
import sys
from pathlib import Path

import feedparser
import icalendar
import vobject


def by_icalendar(octets: bytes) -> list[dict]:
    calendar = icalendar.Calendar.from_ical(octets)
    assert not calendar.errors, calendar.errors
    events = []
    for event in calendar.walk("VEVENT"):
        assert not event.errors, event.errors
        events.append({
            "uid": str(event["UID"]),
            "sequence": int(event["SEQUENCE"]),
            "first": event["DTSTART"].dt.isoformat(),
            "after": event["DTEND"].dt.isoformat(),
            "summary": str(event["SUMMARY"]),
            "description": str(event["DESCRIPTION"]),
            "location": str(event["LOCATION"]),
            "stamp": event["DTSTAMP"].dt.isoformat(),
            "transparent": str(event["TRANSP"]),
        })
    return events


def by_vobject(octets: bytes) -> list[dict]:
    calendar = vobject.readOne(octets.decode())
    assert calendar.version.value == "2.0"
    return [{
        "uid": event.uid.value,
        "sequence": int(event.sequence.value),
        "first": event.dtstart.value.isoformat(),
        "after": event.dtend.value.isoformat(),
        "summary": event.summary.value,
        "description": event.description.value,
        "location": event.location.value,
        "stamp": event.dtstamp.value.isoformat(),
        "transparent": event.transp.value,
    } for event in calendar.vevent_list]


def atom(octets: bytes) -> dict:
    feed = feedparser.parse(octets)
    return {
        "version": feed.version,
        "malformed": bool(feed.bozo),
        "id": feed.feed.id,
        "title": feed.feed.title,
        "updated": feed.feed.updated,
        "author": feed.feed.author,
        "entries": [{
            "id": entry.id,
            "title": entry.title,
            "updated": entry.updated,
            "parsed": entry.updated_parsed is not None,
            "type": entry.content[0].type,
            "content": entry.content[0].value,
        } for entry in feed.entries],
    }


def main() -> None:
    kind, path = sys.argv[1:]
    octets = Path(path).read_bytes()
    if kind == "calendar":
        told = {"icalendar": by_icalendar(octets), "vobject": by_vobject(octets)}
    else:
        told = atom(octets)
    json.dump(told, sys.stdout)


main()
