"""Example lines, a few for each command, at the end of its `--help`: tests/docs/test_commands.py runs every one."""

from __future__ import annotations

from collections.abc import Mapping

Example = tuple[str, str]
"""What the line does, and the line itself."""

EXAMPLES: Mapping[str, tuple[Example, ...]] = {
    "rehearse": (
        ("the demo heat, until Ctrl-C", "tallywire rehearse"),
        ("its last minutes, ten times as fast", "tallywire rehearse --from 9:00 --speed 10 --exit-at-end"),
        ("what a server has until now, which is left alone", "tallywire rehearse tallywire-data --port 8401"),
    ),
    "simulate": (
        ("every heat of the file, made up", "tallywire simulate my-competition.toml --out heat.ndjson"),
        ("one heat with bad judges and networks", "tallywire simulate my-competition.toml --world rough --seed 7"),
    ),
    "steer": (
        ("to where the clock of the heat shows 8:30", "tallywire steer rehearsal-data to 8:30"),
        ("to the next change of the lead", "tallywire steer rehearsal-data next lead"),
    ),
    "make": (("a new file, or one that is there already", "tallywire make my-competition.toml"),),
    "serve": (
        ("on this machine alone", "tallywire serve my-competition.toml"),
        (
            "for the venue, a second copy on another disk",
            "tallywire serve my-competition.toml --host 0.0.0.0 --mirror copy --print-links",
        ),
    ),
    "handover": (("let the other machine go on with the heat", "tallywire handover --redis redis://127.0.0.1:6379/0"),),
    "edge": (
        (
            "for everybody in the hall who watches",
            "tallywire edge --redis redis://10.0.0.2:6379/0 --host 0.0.0.0 --port 8400",
        ),
    ),
    "export": (
        ("a competition and its facts in one file", "tallywire export tallywire-data > heat.ndjson"),
        ("the same of a journal on Redis", "tallywire export --redis redis://127.0.0.1:6379/0 > heat.ndjson"),
    ),
    "links": (
        ("who has which", "tallywire links tallywire-data"),
        (
            "slips for the whole crew, to print before the first start",
            "tallywire links tallywire-data --make all --sheet slips.html --competition my-competition.toml",
        ),
    ),
    "verify": (
        ("a journal, record by record", "tallywire verify tallywire-data"),
        ("an export", "tallywire verify heat.ndjson"),
        ("a journal on Redis", "tallywire verify --redis redis://127.0.0.1:6379/0"),
    ),
    "check": (("everything that is wrong with a file", "tallywire check my-competition.toml"),),
    "schema": (
        ("of competition files", "tallywire schema competition"),
        ("of the lines of a recording", "tallywire schema events"),
    ),
    "audit": (("of one heat", "tallywire audit my-competition.toml heat.ndjson --heat final-women"),),
    "results": (
        ("as a table", "tallywire results my-competition.toml heat.ndjson"),
        ("for a spreadsheet", "tallywire results my-competition.toml heat.ndjson --format csv"),
    ),
    "standings": (("as JSON", "tallywire standings my-competition.toml heat.ndjson --json"),),
    "sheets": (("of one event", "tallywire sheets my-competition.toml --event final --out paper"),),
    "seed": (
        (
            "the leaders in the last heat",
            "tallywire seed my-competition.toml heat.ndjson --event final --division women --lanes 10",
        ),
    ),
    "cues": (("with the time of each", "tallywire cues my-competition.toml heat.ndjson"),),
    "moments": (
        ("as chapters of the footage", "tallywire moments my-competition.toml heat.ndjson"),
        (
            "as a table with timecode, the heat's start at 10:04:30:00",
            "tallywire moments my-competition.toml heat.ndjson --format csv --rate 25 --start 10:04:30:00",
        ),
    ),
    "wording": (("to be translated", "tallywire wording > wording.toml"),),
    "callsheet": (
        (
            "to print before the heat",
            "tallywire callsheet my-competition.toml heat.ndjson --heat final-women --out call.html",
        ),
    ),
    "scorecard": (
        (
            "of every heat on the recording",
            "tallywire scorecard my-competition.toml heat.ndjson --out card.html",
        ),
    ),
    "bench": (
        ("everything, into a page of documentation", "tallywire bench --write docs/performance.md"),
        ("two measures as data", "tallywire bench --only fold --only tap --json"),
    ),
    "completion": (("for bash, in this terminal", 'eval "$(tallywire completion bash)"'),),
}


def epilog(command: str) -> str | None:
    """Give the end of a command's help; None for a command without an example."""
    found = EXAMPLES.get(command, ())
    lines = [line for what, command_line in found for line in (f"  # {what}", f"  {command_line}")]
    return "\n".join(["examples:", *lines]) if lines else None
