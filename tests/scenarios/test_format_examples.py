"""The recorded examples of every format, counted again from their raw lines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from scenarios.raw_heat import lines_of
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.formats.registry import format_names
from tallywire.core.reports.results import Choice, ResultRow, result_tables
from tallywire.shell.files import competition_beside, load_competition, load_recording
from tallywire.wire.roles import ROLES
from tallywire.wire.rules import Sender, check

FOLDER = Path(__file__).parents[2] / "scenarios"
ESTUARY = load_competition(FOLDER / "estuary.toml")


def raw(heat: str) -> list[Mapping[str, Any]]:
    """The lines of an example."""
    return lines_of(FOLDER / f"estuary-{heat}.ndjson")


def rows(heat: str) -> dict[int, ResultRow]:
    """The result of an example, by lane: of the whole performance, which is the last where there are parts."""
    book = CompetitionBook(ESTUARY, load_recording(FOLDER / f"estuary-{heat}.ndjson"))
    return {row.lane: row for table in result_tables(book.at_last_facts(), Choice(heat=heat)) for row in table.rows}


def last_reps(heat: str) -> dict[int, int]:
    """The time of each lane's last rep or block."""
    done = [line for line in raw(heat) if line["fact"] in ("rep_counted", "block_completed")]
    return {line["lane"]: line["at_ms"] for line in done}


def test_every_format_has_an_example() -> None:
    """Each format of the program has an event here or in the Saltmarsh Trials, with a recording."""
    saltmarsh = load_competition(FOLDER / "saltmarsh.toml")
    events = [*ESTUARY.events.values(), *saltmarsh.events.values()]
    assert {event.workout.format for event in events} == set(format_names())
    assert all((FOLDER / f"estuary-{heat}.ndjson").is_file() for heat in ESTUARY.heats)


@pytest.mark.parametrize("heat", ["chipper", "shared"])
def test_a_finish_is_the_last_rep(heat: str) -> None:
    """For time: the result is the time of the last line of work, and places follow it."""
    times = last_reps(heat)
    found = rows(heat)
    assert {lane: row.result_ms for lane, row in found.items()} == times
    assert [row.lane for row in sorted(found.values(), key=lambda row: row.place)] == sorted(
        times, key=times.__getitem__
    )


def test_the_cap_costs_two_seconds_a_rep() -> None:
    """With the penalty: 3:20 and two seconds for each of the 75 reps not counted by then."""
    counts = Counter(line["lane"] for line in raw("sluice") if line["fact"] == "rep_counted")
    capped = {lane: row for lane, row in rows("sluice").items() if row.status == "capped"}
    assert set(capped) == {lane for lane, count in counts.items() if count < 75}
    assert {lane: row.result_ms for lane, row in capped.items()} == {
        lane: 200_000 + 2000 * (75 - counts[lane]) for lane in capped
    }


def test_the_heaviest_good_lift() -> None:
    """Max load: the heaviest declared load that was made."""
    best: dict[int, int] = {}
    declared: dict[int, int] = {}
    for line in raw("anchor"):
        if line["fact"] == "attempt_declared":
            declared[line["lane"]] = line["load_milli"]
        elif line["fact"] == "attempt_made":
            best[line["lane"]] = max(best.get(line["lane"], 0), declared[line["lane"]])
    assert {lane: row.result for lane, row in rows("anchor").items()} == {
        lane: f"{load // 1000} kg" for lane, load in best.items()
    }


def test_lifts_until_the_miss() -> None:
    """Ladder: the lifts made before the first miss."""
    made: Counter[int] = Counter()
    missed: set[int] = set()
    for line in raw("lock-ladder"):
        if line["fact"] == "attempt_failed":
            missed.add(line["lane"])
        elif line["fact"] == "attempt_made" and line["lane"] not in missed:
            made[line["lane"]] += 1
    assert {lane: row.scored_reps for lane, row in rows("lock-ladder").items()} == made


def test_the_slowest_piece_counts() -> None:
    """Intervals: of the reps in the windows 0:00, 1:30 and 3:00, each a minute long, the fewest."""
    pieces: Counter[tuple[int, int]] = Counter()
    for line in raw("tides"):
        if line["fact"] == "rep_counted":
            pieces[line["lane"], line["at_ms"] // 90_000] += 1
    assert {lane: row.result for lane, row in rows("tides").items()} == {
        lane: f"{min(pieces[lane, piece] for piece in range(3))} reps" for lane in (1, 2, 3, 4)
    }


def test_the_times_of_the_pieces_add_up() -> None:
    """Timed intervals: the time of each piece's last rep less its start, added."""
    last: dict[tuple[int, int], int] = {}
    for line in raw("sprints"):
        if line["fact"] == "rep_counted":
            piece = line["at_ms"] // 90_000
            last[line["lane"], piece] = line["at_ms"] - 90_000 * piece
    assert {lane: row.result_ms for lane, row in rows("sprints").items()} == {
        lane: sum(last[lane, piece] for piece in range(3)) for lane in (1, 2, 3, 4)
    }


def test_a_relay_counts_every_rep() -> None:
    """As many as possible: every rep of either partner."""
    counts = Counter(line["lane"] for line in raw("relay") if line["fact"] == "rep_counted")
    assert {lane: row.scored_reps for lane, row in rows("relay").items()} == counts


def test_synchro_waits_for_the_second_partner() -> None:
    """Synchro: the finish is the later of the two partners' thirtieth rep."""
    thirtieth: dict[int, int] = {}
    counts: Counter[tuple[int, int]] = Counter()
    for line in raw("synchro"):
        if line["fact"] == "rep_counted":
            counts[line["lane"], line["member"]] += 1
            if counts[line["lane"], line["member"]] == 30:
                thirtieth[line["lane"]] = line["at_ms"]
    assert {lane: row.result_ms for lane, row in rows("synchro").items()} == thirtieth


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.ndjson")), ids=lambda path: path.stem)
def test_every_recorded_fact_may_be_sent_by_who_sent_it(path: Path) -> None:
    """Played through the wire nothing is refused: a lane's pad sends nothing but what a pad may send for its lane."""
    facts = load_recording(path)
    competition = load_competition(competition_beside(path, facts[0].heat))
    for fact in facts:
        role = ROLES[fact.sender.split("-")[0]]
        lane = int(fact.sender.split("-")[1]) if role.lane == "always" else None
        check(fact, Sender(name=fact.sender, role=role, lane=lane), competition)
