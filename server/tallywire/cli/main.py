"""The command `tallywire`: reads the arguments, calls one command, turns errors into messages and exit codes."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from tallywire.cli import callsheets, cues, files, links, live, rehearse, results, sheets, start_lists, verify
from tallywire.core.errors import JournalFailed, TallywireError

OK, INTERRUPTED, WRONG, JOURNAL = 0, 130, 2, 3


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and give its exit code: 0, 2 for wrong input, 3 for a journal that failed."""
    arguments = _parser().parse_args(argv)
    try:
        code: int = arguments.run(arguments)
    except JournalFailed as exc:
        print(f"tallywire: {exc}", file=sys.stderr)
        return JOURNAL
    except TallywireError as exc:
        print(f"tallywire: {exc}", file=sys.stderr)
        return WRONG
    except KeyboardInterrupt:
        return INTERRUPTED
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="tallywire", description="Live scoring and on-air data for fitness heats.")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for group in (rehearse, live, links, verify, files, results, sheets, start_lists, cues, callsheets):
        group.add_commands(commands)
    return parser
