"""Published results that tests read from installed data packages, by path: the packages are never imported."""

from __future__ import annotations

import csv
from importlib.util import find_spec
from pathlib import Path


def published(package: str, *parts: str) -> Path:
    """Give the path of a file inside an installed package."""
    spec = find_spec(package)
    if spec is None or not spec.submodule_search_locations:
        raise FileNotFoundError(f"found no package {package}, expected it installed: `bash tests/run` does that")
    return Path(spec.submodule_search_locations[0], *parts)


def published_rows(package: str, *parts: str) -> list[list[str]]:
    """Give the rows of a CSV file inside an installed package, its head line first."""
    with published(package, *parts).open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file, skipinitialspace=True))
