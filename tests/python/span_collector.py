"""Gathers spans as OpenTelemetry's definitions from PyPI have them: OTLP over gRPC, on 127.0.0.1 and a free port, whose number
is the first line of output; each span that comes is one more line, a JSON object. Ends with its input.

Takes a port, 0 for a free one, and over TLS a certificate and its key.
"""

import json
import sys
from concurrent import futures

import grpc
from opentelemetry.proto.collector.trace.v1 import trace_service_pb2 as service
from opentelemetry.proto.collector.trace.v1 import trace_service_pb2_grpc as served
from opentelemetry.proto.trace.v1.trace_pb2 import Span, Status


def plain(attributes):
    """Attributes by name."""
    return {own.key: getattr(own.value, own.value.WhichOneof("value")) for own in attributes}


class Collector(served.TraceServiceServicer):
    def Export(self, request, context):
        headers = dict(context.invocation_metadata())
        for group in request.resource_spans:
            for scope in group.scope_spans:
                for span in scope.spans:
                    told = {
                        "headers": {name: text for name, text in headers.items() if isinstance(text, str)},
                        "resource": plain(group.resource.attributes),
                        "name": span.name,
                        "kind": Span.SpanKind.Name(span.kind),
                        "trace": span.trace_id.hex(),
                        "span": span.span_id.hex(),
                        "parent": span.parent_span_id.hex(),
                        "state": span.trace_state,
                        "attributes": plain(span.attributes),
                        "events": len(span.events),
                        "status": Status.StatusCode.Name(span.status.code),
                        "took_ns": span.end_time_unix_nano - span.start_time_unix_nano,
                    }
                    print(json.dumps(told), flush=True)
        return service.ExportTraceServiceResponse()


server = grpc.server(futures.ThreadPoolExecutor(max_workers=1))
served.add_TraceServiceServicer_to_server(Collector(), server)
address = f"127.0.0.1:{sys.argv[1]}"
if len(sys.argv) > 2:
    certificate, key = (open(path, "rb").read() for path in sys.argv[2:4])
    port = server.add_secure_port(address, grpc.ssl_server_credentials([(key, certificate)]))
else:
    port = server.add_insecure_port(address)
server.start()
print(port, flush=True)
sys.stdin.read()
server.stop(None)
