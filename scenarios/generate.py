"""Write the recorded heats beside this file, or check that they are what the scripts give.

python scenarios/generate.py            writes them
python scenarios/generate.py --check    says which differ; exit code 1 if any does
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from estuary_heats import record_example
from floor_crew import record
from saltmarsh_heats import HEATS
from tallywire.shell.files import load_competition
from tallywire.wire.fact_lines import fact_line

FOLDER = Path(__file__).resolve().parent


def recordings() -> Mapping[str, bytes]:
    """Give every recording by its file name."""
    saltmarsh, estuary = load_competition(FOLDER / "saltmarsh.toml"), load_competition(FOLDER / "estuary.toml")
    heats = {name: record(saltmarsh, script) for name, script in HEATS.items()}
    heats |= {f"estuary-{heat.id}.ndjson": record_example(estuary, heat) for heat in estuary.heats.values()}
    return {name: b"".join(fact_line(fact) + b"\n" for fact in facts) for name, facts in heats.items()}


def main(argv: Sequence[str] | None = None) -> int:
    """Write or check; give the exit code."""
    parser = argparse.ArgumentParser(description="Write the recorded heats.")
    parser.add_argument("--check", action="store_true", help="write nothing, say what differs")
    parser.add_argument("--into", type=Path, default=FOLDER, metavar="FOLDER", help="where they stand (default: here)")
    arguments = parser.parse_args(argv)
    if arguments.check:
        return _check(arguments.into)
    for name, text in recordings().items():
        (arguments.into / name).write_bytes(text)
    return 0


def _check(folder: Path) -> int:
    differing = [name for name, text in recordings().items() if _kept(folder / name) != text]
    for name in differing:
        print(
            f"{folder / name}: not what the script gives; write it with python scenarios/generate.py", file=sys.stderr
        )
    return 1 if differing else 0


def _kept(path: Path) -> bytes | None:
    return path.read_bytes() if path.is_file() else None


if __name__ == "__main__":
    sys.exit(main())
