"""What Schemathesis does with the service besides what the description says of it."""

import json
import os
import re

import schemathesis
from schemathesis.core.parameters import ParameterLocation

# The key that the run itself shows.
OWN_KEY = os.environ["BAYCAST_KEY_ID"]

# What the description has as texts: lines and sheets.
TEXTS = ("application/x-ndjson", "text/csv", "text/tab-separated-values")

# A range as the service tells it of one value, which a schema has words for.
RANGE = re.compile(r"^-?[0-9.]+ to -?[0-9.]+( characters)?$")


@schemathesis.serializer(*TEXTS)
def as_it_is(context, text):
    """A text as it is."""
    return text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text


@schemathesis.hook
def before_call(context, case, kwargs):
    """Keeps a run from waiting for ever, from revoking its own key, and from asking not to be refused."""
    operation = f"{case.method} {case.path}"
    if operation == "GET /v1/farms/{farm}/readiness:watch":
        # What is told of a farm never ends. Of one that is not there nothing is told, and all the rest holds.
        case.path_parameters["farm"] = "nowhere"
    if case.media_type in TEXTS and isinstance(case.body, dict | list | int | float | None):
        # Written out, what is no text is one.
        case.body = json.dumps(case.body)
    if operation == "POST /v1/keys/{key}/revoke" and case.path_parameters.get("key") == OWN_KEY:
        case.path_parameters["key"] = "key_of_another"
    if operation == "POST /v1/farms/{farm}/events" and case.meta and case.meta.is_negative_at(ParameterLocation.BODY):
        # A dry run, and one that keeps the good ones, are answered with what is refused of each event.
        for asked in ("dry_run", "mode"):
            case.query.pop(asked, None)


@schemathesis.check
def a_refusal_names_its_fields(context, response, case):
    """A problem points to something that was sent or could have been, and says what is taken there.

    What the description allows is never outside a mere range: the description has those.
    """
    if response.status_code != 422:
        return
    errors = response.json().get("errors")
    assert errors, "no field is named"
    parameters = {parameter.name.lower().replace("-", "_") for parameter in case.operation.iter_parameters()}
    allowed = case.meta is not None and case.meta.generation.mode.is_positive
    for error in errors:
        assert error["accepted"] and error["value"], f"half a problem: {error}"
        parts = [part.replace("~1", "/").replace("~0", "~") for part in error["pointer"].split("/")[1:]]
        asked = parts and (parts[0].lower().replace("-", "_") in parameters or parts[0] in (case.query or {}))
        sheet = case.media_type in TEXTS and parts[:1] == ["lines"]
        assert asked or sheet or leads(parts, case.body), f"{error['pointer']!r} leads nowhere"
        assert not (allowed and RANGE.match(error["accepted"])), f"a range that is not described: {error}"


def leads(parts, value):
    """Whether a pointer leads into a value, as far as its last part, which may be what is missing."""
    for part in parts[:-1]:
        if isinstance(value, list):
            value = value[int(part)] if part.isdigit() and int(part) < len(value) else None
        else:
            value = value.get(part) if isinstance(value, dict) else None
        if value is None:
            return False
    return not parts or isinstance(value, dict | list)
