"""A receiver of webhooks: verifies with the Standard Webhooks library, parses with the CloudEvents SDK, tells what came.

Serves 127.0.0.1 on a free port, whose number is the first line of its output; over TLS where it is given a certificate and a
key. Each line of its input is a JSON object: `path`, and what is answered there from then on: `secrets`, `answers` (statuses,
one for each request, the last for all that follow; 204 where there is none), `headers` and `delay_s`, before it is answered. Each request becomes a line of
output once it is answered.
"""

import json
import ssl
import sys
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from cloudevents.core.bindings.http import HTTPMessage, from_http_event
from standardwebhooks.webhooks import Webhook, WebhookVerificationError

LOCK = threading.Lock()
PLACES = {}


def place(path):
    return PLACES.setdefault(path, {"secrets": [], "answers": [], "headers": {}, "delay_s": 0, "count": 0, "under_way": 0})


def verified(secret, body, headers):
    """Whether the library takes the message as signed with this secret."""
    try:
        Webhook(secret).verify(body, headers)
        return True
    except WebhookVerificationError:
        return False


def tell(value):
    with LOCK:
        print(json.dumps(value), flush=True)


class Receiver(BaseHTTPRequestHandler):
    def do_POST(self):
        body = self.rfile.read(int(self.headers["content-length"]))
        headers = {name.lower(): value for name, value in self.headers.items()}
        with LOCK:
            own = place(self.path)
            answers = own["answers"]
            status = answers[min(own["count"], len(answers) - 1)] if answers else 204
            own["count"] += 1
            own["under_way"] += 1
            under_way = own["under_way"]
            secrets, answered = list(own["secrets"]), dict(own["headers"])
        time.sleep(own["delay_s"])
        event = from_http_event(HTTPMessage(headers=headers, body=body))
        changed = body.replace(b'"specversion"', b'"Specversion"', 1)
        other_time = {**headers, "webhook-timestamp": str(int(headers["webhook-timestamp"]) - 1)}
        other_id = {**headers, "webhook-id": headers["webhook-id"] + "0"}
        with LOCK:
            own["under_way"] -= 1
        self.send_response(status)
        for name, value in answered.items():
            self.send_header(name, value)
        self.end_headers()
        tell({
            "path": self.path,
            "status": status,
            "under_way": under_way,
            "headers": headers,
            "verified": [verified(secret, body, headers) for secret in secrets],
            "tampered": [
                verified(secret, *message)
                for secret in secrets
                for message in ((changed, headers), (body, other_time), (body, other_id))
            ],
            "event": {
                "id": event.get_id(),
                "type": event.get_type(),
                "source": event.get_source(),
                "subject": event.get_subject(),
                "time": event.get_time().isoformat(),
                "specversion": event.get_specversion(),
                "datacontenttype": event.get_datacontenttype(),
            },
            "data": event.get_data(),
        })

    def log_message(self, *_):
        pass


def main():
    server = ThreadingHTTPServer(("127.0.0.1", 0), Receiver)
    if len(sys.argv) == 3:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(sys.argv[1], sys.argv[2])
        server.socket = context.wrap_socket(server.socket, server_side=True)
    tell(server.server_port)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    # Ends with its input, which ends with whoever started it.
    for line in sys.stdin:
        told = json.loads(line)
        with LOCK:
            place(told.pop("path")).update(told, count=0)
        tell("heard")


main()
