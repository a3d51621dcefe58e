"""One history through curl, a client built from proto/ and a client built by reflection: same numbers or exit 1.

Usage: grpc_client.py ADDRESS PROTO_FOLDER HISTORY.json
"""

import importlib
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import grpc
import grpc_tools
from google.protobuf import descriptor_pool, message_factory
from grpc_reflection.v1alpha.proto_reflection_descriptor_database import ProtoReflectionDescriptorDatabase
from grpc_tools import protoc

METHOD = "/baycast.v1.MaturityService/EstimateMaturity"


def over_rest(address, history):
    """The estimate as REST gives it to curl."""
    command = ["curl", "-sS", "--fail-with-body", "--max-time", "60", "-H", "content-type: application/json"]
    command += ["--data-binary", "@-", f"http://{address}/v1/estimates"]
    answer = subprocess.run(command, input=json.dumps(history).encode(), capture_output=True, check=True)
    return json.loads(answer.stdout)


def build(proto_folder, folder):
    """Lets protoc build the modules of a client into a folder, from which they can be imported then."""
    files = [str(path) for path in sorted(Path(proto_folder).rglob("*.proto"))]
    bundled = Path(grpc_tools.__file__).parent / "_proto"
    arguments = ["protoc", f"-I{proto_folder}", f"-I{bundled}", f"--python_out={folder}"]
    if protoc.main([*arguments, f"--grpc_python_out={folder}", *files]) != 0:
        raise SystemExit("protoc failed")
    sys.path.insert(0, folder)


def over_built_client(address, proto_folder, history):
    """The estimate by a client that protoc built from proto/."""
    with tempfile.TemporaryDirectory() as folder:
        build(proto_folder, folder)
        messages = importlib.import_module("baycast.v1.maturity_pb2")
        services = importlib.import_module("baycast.v1.maturity_pb2_grpc")
        request = messages.EstimateMaturityRequest()
        fill(request.history, history)
        with grpc.insecure_channel(address) as channel:
            answer = services.MaturityServiceStub(channel).EstimateMaturity(request, timeout=60)
        return as_json(answer.estimate)


def over_reflection(address, history):
    """The estimate by a client that knows nothing but what the server says of itself."""
    with grpc.insecure_channel(address) as channel:
        database = ProtoReflectionDescriptorDatabase(channel)
        if "baycast.v1.MaturityService" not in database.get_services():
            raise SystemExit("the service is not listed by reflection")
        pool = descriptor_pool.DescriptorPool(database)
        method = pool.FindServiceByName("baycast.v1.MaturityService").FindMethodByName("EstimateMaturity")
        request = message_factory.GetMessageClass(method.input_type)()
        fill(request.history, history)
        call = channel.unary_unary(
            METHOD,
            request_serializer=lambda message: message.SerializeToString(),
            response_deserializer=message_factory.GetMessageClass(method.output_type).FromString,
        )
        return as_json(call(request, timeout=60).estimate)


def fill(message, values):
    """Sets a message from JSON of the same shape, where enums are snake-case words."""
    message.SetInParent()
    for name, value in values.items():
        field = message.DESCRIPTOR.fields_by_name[name]
        if field.message_type and field.is_repeated:
            for element in value:
                fill(getattr(message, name).add(), element)
        elif field.message_type:
            fill(getattr(message, name), value)
        elif field.is_repeated:
            getattr(message, name).extend(value)
        elif field.enum_type:
            word = prefix(field.enum_type) + value.upper()
            setattr(message, name, field.enum_type.values_by_name[word].number)
        else:
            setattr(message, name, value)


def as_json(message):
    """A message as REST would write it, without what is absent or empty."""
    values = {}
    for field in message.DESCRIPTOR.fields:
        value = getattr(message, field.name)
        if field.is_repeated:
            value = [one(field, element) for element in value]
        elif field.has_presence and not message.HasField(field.name):
            continue
        else:
            value = one(field, value)
        if value not in ("", []):
            values[field.name] = value
    return values


def one(field, value):
    """One value of a field."""
    if field.message_type:
        return as_json(value)
    if field.enum_type:
        return field.enum_type.values_by_number[value].name.removeprefix(prefix(field.enum_type)).lower()
    return value


def prefix(enum):
    """What stands before each value's name."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", enum.name).upper() + "_"


def without_nothing(value):
    """JSON without nulls, empty texts and empty lists, which protobuf doesn't tell from absence."""
    if isinstance(value, dict):
        kept = {name: without_nothing(inner) for name, inner in value.items()}
        return {name: inner for name, inner in kept.items() if inner not in (None, "", [])}
    if isinstance(value, list):
        return [without_nothing(inner) for inner in value]
    return value


def leaves(value, at=""):
    """Every value with its JSON Pointer. A number is written with all the digits it takes to read it back."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from leaves(inner, f"{at}/{name}")
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from leaves(inner, f"{at}/{index}")
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        yield at, repr(float(value))
    else:
        yield at, value


def main():
    address, proto_folder, history_file = sys.argv[1:]
    history = json.loads(Path(history_file).read_text(encoding="utf-8"))
    rest = dict(leaves(without_nothing(over_rest(address, history))))
    answers = {
        "the client built from proto/": over_built_client(address, proto_folder, history),
        "the client built by reflection": over_reflection(address, history),
    }
    for name, answer in answers.items():
        answer = dict(leaves(answer))
        different = sorted(at for at in rest.keys() | answer.keys() if rest.get(at) != answer.get(at))
        for at in different[:20]:
            print(f"{name}: {at}: REST {rest.get(at)!r}, gRPC {answer.get(at)!r}", file=sys.stderr)
        if different:
            raise SystemExit(1)
    print(f"{len(rest)} values equal over REST, proto/ and reflection")


if __name__ == "__main__":
    main()
