"""Holds a compose file to the specification: unknown keys, wrong types, and networks, volumes and secrets that are not there.

Usage: compose.py FILE
"""

import json
import sys

import compose_spec
import yaml


def main():
    """Reads the file as Compose does, merges included, then checks it strictly."""
    with open(sys.argv[1], encoding="utf-8") as file:
        document = yaml.safe_load(file)
    compose = compose_spec.PyCompose.from_json(json.dumps(document))
    compose.validate()
    print(" ".join(compose.service_names()))


if __name__ == "__main__":
    main()
