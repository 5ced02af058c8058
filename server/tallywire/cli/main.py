"""The command `tallywire`: reads the arguments, calls one command, turns errors into messages and exit codes."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Mapping, Sequence
from importlib import import_module
from importlib.metadata import version

from tallywire.cli.examples import epilog
from tallywire.core.errors import JournalFailed, TallywireError
from tallywire.shell.collection import uncollected

OK, WRONG, JOURNAL, OUTPUT, INTERRUPTED, CLOSED = 0, 2, 3, 4, 130, 141
"""Exit codes: docs/command-line.md says what each means."""

COMMANDS: Mapping[str, str] = {
    "rehearse": "rehearse",
    "steer": "steer",
    "simulate": "simulate",
    "make": "make",
    "serve": "live",
    "export": "live",
    "handover": "redis_options",
    "edge": "edge",
    "links": "links",
    "verify": "verify",
    "check": "files",
    "schema": "files",
    "audit": "audit",
    "results": "results",
    "standings": "results",
    "sheets": "sheets",
    "seed": "start_lists",
    "cues": "cues",
    "wording": "cues",
    "moments": "moments",
    "callsheet": "callsheets",
    "scorecard": "scorecards",
    "bench": "bench",
    "completion": "completion",
}
"""Each command and the module of this package that adds it: only that one is imported to run it."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and give its exit code."""
    given = list(sys.argv[1:] if argv is None else argv)
    try:
        _speak_plainly()
        code = _run(given)
        sys.stdout.flush()
    except TallywireError as exc:
        print(f"tallywire: {exc}", file=sys.stderr)
        return JOURNAL if isinstance(exc, JournalFailed) else WRONG
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output has enough of it: that is no error to talk about.
        _close_output()
        return CLOSED
    except OSError as exc:
        print(f"tallywire: {exc}: check the disk, and where the output goes", file=sys.stderr)
        _close_output()
        return OUTPUT
    return code


def _run(given: Sequence[str]) -> int:
    words = [*given[1:2], "--help"] if given[:1] == ["help"] else given
    arguments = make_parser(words[0] if words else "").parse_args(words)
    code: int = arguments.run(arguments)
    return code


def make_parser(command: str = "") -> argparse.ArgumentParser:
    """Give the parser with one command, or with all of them when there is none of that name."""
    parser = argparse.ArgumentParser(
        prog="tallywire",
        description="Live scoring and on-air data for fitness heats.",
        epilog="`tallywire help COMMAND` says more about one, with examples.",
    )
    parser.add_argument("--version", action="version", version=f"tallywire {version('tallywire')}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    wanted = [COMMANDS[command]] if command in COMMANDS else COMMANDS.values()
    # Importing makes very many objects that stay: the collector's walks over them were a tenth of a start.
    with uncollected():
        for module in dict.fromkeys(wanted):
            import_module(f"tallywire.cli.{module}").add_commands(commands)
    for name, each in commands.choices.items():
        each.epilog, each.formatter_class = epilog(name), argparse.RawDescriptionHelpFormatter
    return parser


def _speak_plainly() -> None:
    """Let a terminal that knows few letters show the others as numbers, instead of ending the command."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def _close_output() -> None:
    """Keep the interpreter from writing what is left to an output that takes no more."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError:
        sys.stdout = None
