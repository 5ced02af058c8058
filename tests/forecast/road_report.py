"""The part of the report that is about real split times: how it is tried, what is asked, what came."""

from __future__ import annotations

from collections.abc import Sequence

from forecast import road
from forecast.road import PARTS, RoadCase
from forecast.summary import Row, as_table

LESSONS = 10


def run(draws: int) -> tuple[list[RoadCase], list[RoadCase]]:
    """Try the heats of the rows that are kept for the report: cold, and taught by heats of the other rows."""
    rows = road.read_rows()
    taught = road.lessons(rows[: road.DEVELOPED], count=LESSONS)
    found = road.heats(rows[road.DEVELOPED :])
    cold = road.try_heats(found, teach=lambda _: None, draws=draws)
    return cold, road.try_heats(found, teach=lambda number: taught[number % LESSONS], draws=draws)


def figures(cold: Sequence[RoadCase], warm: Sequence[RoadCase]) -> str:
    """The real split times: targets, and coverage and errors by third and moment, as Markdown."""
    groups = [(name, each) for name, cases in (("cold", cold), ("warm", warm)) for each in _split(cases)]
    head = ["| | forecasts | 80 % held | off: forecast | " + " | ".join(road.ONE_LINERS) + " |", "| --- " * 7 + "|"]
    rows = [_row(name, *each) for name, each in groups]
    return "\n".join(["### Real split times", "", *as_table(targets(cold, warm)), "", *head, *rows, ""])


def _split(cases: Sequence[RoadCase]) -> list[tuple[str, list[RoadCase]]]:
    found = [("all", list(cases))]
    for number, third in enumerate(("fast", "middle", "slow")):
        found.append((f"{third} third by the finish", [case for case in cases if case.by_finish == number]))
    for number, third in enumerate(("fast", "middle", "slow")):
        found.append((f"{third} third at 10 km", [case for case in cases if case.by_start == number]))
    return found + [(f"{part:.0%}", [case for case in cases if case.part == part]) for part in PARTS]


def _row(name: str, group: str, cases: Sequence[RoadCase]) -> str:
    off = " | ".join(f"{value:.1f} s" for value in road.errors(cases).values())
    return f"| {name}, {group} | {len(cases):,} | {road.coverage(cases):.1f} % | {off} |"


def targets(cold: Sequence[RoadCase], warm: Sequence[RoadCase]) -> list[Row]:
    """What is asked of the model on real split times, cold and warm."""
    rows = [_held("cold", cold, 74, 86), _off("cold", cold, 1.0), _held("warm", warm, 76, 84), _off("warm", warm, 0.9)]
    for group, cases in _split(warm)[1:]:
        rows.append(_held(f"warm, {group}", cases, 72, 88))
        if "third" in group:
            rows.append(_off(f"warm, {group}", cases, 1.0))
    return rows


def _held(name: str, cases: Sequence[RoadCase], low: int, high: int) -> Row:
    share = road.coverage(cases)
    return f"coverage of the 80 % interval, {name}", f"{low}–{high} %", f"{share:.1f} %", low <= share <= high


def _off(name: str, cases: Sequence[RoadCase], share: float) -> Row:
    ours, *others = road.errors(cases).values()
    asked = f"≤ {share * min(others):.1f} s ({share:.0%} of the best one-liner)"
    return f"median off by, {name}", asked, f"{ours:.1f} s", ours <= share * min(others)
