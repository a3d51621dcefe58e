"""Saturation pressures against the PyPI package iapws (IAPWS-IF97).

Standard input: `[[°C, kPa], ...]`. Standard output: the largest relative difference.
"""

from __future__ import annotations

import json
import sys

from iapws import IAPWS97  # type: ignore[import-untyped]


def difference(celsius: float, kpa: float) -> float:
    """Relative difference of one pressure from the boiling line of IAPWS-IF97."""
    reference_kpa: float = 1000.0 * IAPWS97(T=celsius + 273.15, x=0).P
    return abs(kpa / reference_kpa - 1.0)


def main() -> None:
    """Prints the largest difference."""
    pairs = json.load(sys.stdin)
    if not pairs:
        raise SystemExit("no pressures given")
    print(repr(max(difference(celsius, kpa) for celsius, kpa in pairs)))


if __name__ == "__main__":
    main()
