"""Another process of the same Python: it finds our modules where this one found them, installed or not."""

from __future__ import annotations

import os
from pathlib import Path

_SOURCES = Path(__file__).parents[2]
"""The folder that holds the package."""


def own_environment() -> dict[str, str]:
    """Give the environment of this process, in which our modules are looked for in their own folder first."""
    path = [str(_SOURCES), *filter(None, [os.environ.get("PYTHONPATH")])]
    return os.environ | {"PYTHONPATH": os.pathsep.join(path)}
