"""A season's plan by a client that protoc built from proto/: JSON in, JSON out, each as REST would write it.

Usage: grpc_plan.py ADDRESS PROTO_FOLDER < SEASON.json
"""

import importlib
import json
import sys
import tempfile

import grpc
from grpc_client import as_json, build, fill


def main():
    address, proto_folder = sys.argv[1:]
    with tempfile.TemporaryDirectory() as folder:
        build(proto_folder, folder)
        messages = importlib.import_module("baycast.v1.plan_service_pb2")
        services = importlib.import_module("baycast.v1.plan_service_pb2_grpc")
        request = messages.PlanSeasonRequest()
        fill(request.season, json.load(sys.stdin))
        with grpc.insecure_channel(address) as channel:
            answer = services.PlanServiceStub(channel).PlanSeason(request, timeout=60)
        json.dump(as_json(answer.plan), sys.stdout)


if __name__ == "__main__":
    main()
