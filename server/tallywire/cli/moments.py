"""The command moments: a recorded heat as chapters of its footage, or as a table with timecode, for the edit suite."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from tallywire.cli.cues import heat_script
from tallywire.core.errors import BadFile, Problem
from tallywire.core.model.timecode import RATES, Rate, frame_of, label
from tallywire.core.outlets.csv_text import csv_text
from tallywire.core.reports.moments import Chapter, chapters, moments
from tallywire.wire.catalogue import catalogue
from tallywire.wire.webvtt import webvtt_text

LAST_MS = 10_000
"""The last chapter is so long, for nothing comes after it that ends it."""
COLUMNS = ("timecode", "heat_ms", "kind", "lane", "line")


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add moments."""
    found = commands.add_parser("moments", help="list the moments of a recorded heat for those who cut its footage")
    found.add_argument("competition", type=Path, metavar="COMPETITION")
    found.add_argument("recording", type=Path, metavar="RECORDING")
    found.add_argument("--heat", help="which heat, when the recording holds several")
    found.add_argument("--wording", type=Path, metavar="FILE", help="the words of another language")
    found.add_argument("--format", choices=("vtt", "csv"), default="vtt", help="default: vtt")
    found.add_argument("--rate", choices=tuple(RATES), default="25", help="frames a second; default: 25")
    found.add_argument("--start", metavar="TIMECODE", help="of the footage when the heat clock starts; default: 0")
    found.add_argument("--first", metavar="TIMECODE", help="of the footage's first frame; default: that of --start")
    found.set_defaults(run=run_moments)


def run_moments(arguments: argparse.Namespace) -> int:
    """Print the moments of a heat."""
    rate = RATES[arguments.rate]
    zero = "00:00:00;00" if rate.dropped else "00:00:00:00"
    start = _frame(arguments.start or zero, rate, "--start")
    first = _frame(arguments.first or arguments.start or zero, rate, "--first")
    competition, heat, facts, script, wording = heat_script(arguments)
    say = catalogue(wording.language).tell
    found = chapters(moments(competition, heat, facts), script, wording=wording, say=say)
    if arguments.format == "csv":
        print(csv_text([_row(each, start, rate) for each in found], COLUMNS), end="")
    else:
        # Past midnight the timecode begins again.
        lead_ms = round(Fraction((start - first) % rate.frames_a_day) / rate.exact * 1000)
        print(webvtt_text(_chapters(found, lead_ms), f"{competition.name}, {heat}"), end="")
    return 0


def _frame(text: str, rate: Rate, option: str) -> int:
    try:
        return frame_of(text, rate)
    except ValueError as exc:
        found, _, expected = str(exc).partition(", expected ")
        raise BadFile("the command line", [Problem(option, found.removeprefix("found "), expected)]) from exc


def _row(moment: Chapter, start: int, rate: Rate) -> dict[str, object]:
    """The timecode is that of the frame that was on at the moment."""
    frame = start + int(moment.at_ms * rate.exact / 1000)
    return {
        "timecode": label(frame, rate),
        "heat_ms": moment.at_ms,
        "kind": moment.kind,
        "lane": moment.lane,
        "line": moment.line,
    }


def _chapters(found: Sequence[Chapter], lead_ms: int) -> list[tuple[int, int, str]]:
    """A chapter lasts until the next moment; those of one instant are one chapter."""
    together: dict[int, list[str]] = {}
    for each in found:
        together.setdefault(each.at_ms, []).append(each.line)
    ends = [*list(together)[1:], max(together, default=0) + LAST_MS]
    return [
        (begin + lead_ms, end + lead_ms, " · ".join(lines))
        for (begin, lines), end in zip(together.items(), ends, strict=True)
    ]
