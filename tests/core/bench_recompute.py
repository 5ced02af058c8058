"""How long it takes to recompute a whole competition from its journal.

    PYTHONPATH=server:tests python tests/core/bench_recompute.py

Three divisions of forty, seven events of five rounds of 26, heats of ten, every heat signed, appealed against,
corrected and signed again, one deduction an event and division. The journal is an SQLite file as the server writes
it. Two densities: what a sheet has (eight facts a performance) and every repetition a tap of its own. Seconds are of
the processor, which a busy machine stretches least. Last, one more correction on the filled book and all standings.
"""

from __future__ import annotations

import asyncio
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import orjson

from tallywire.core.facts import (
    AppealDecided,
    BlockCompleted,
    CountCorrected,
    Fact,
    Finished,
    HeatEnded,
    HeatSigned,
    HeatStarted,
    NoRepCalled,
    PointsDeducted,
    RepCounted,
    SheetChecked,
)
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.fold.result_status import result_digest
from tallywire.core.model.competition import Competition, Division, Entry, Event, Heat
from tallywire.core.model.workout import Credit, Station, Workout
from tallywire.core.ranking.points import StepTable
from tallywire.core.ranking.series import Series
from tallywire.core.standings.overall import division_series
from tallywire.shell.collection import uncollected
from tallywire.shell.journal.port import Draft
from tallywire.shell.journal.reading import sound_lines
from tallywire.shell.journal.sqlite import SqliteJournal
from tallywire.wire.fact_lines import fact_line
from tallywire.wire.trusted_lines import trusted_facts

DIVISIONS, ENTRIES, EVENTS, LANES = 3, 40, 7, 10
CAP_MS = 900_000
ROUNDS = (
    (
        Station(movement="rope climb", amount=2),
        Station(movement="sandbag over shoulder", amount=9),
        Station(movement="shuttle touch", amount=30, credit=Credit.BLOCK),
        Station(movement="box step-over", amount=14),
    ),
) * 5
"""Five rounds of 2 + 9 + 1 + 14 = 26 scored reps."""


def trials() -> Competition:
    """Three divisions of forty, seven events, heats of ten."""
    work = Workout(format="for_time", rounds=ROUNDS, time_cap_ms=CAP_MS)
    divisions = [f"d{number}" for number in range(1, DIVISIONS + 1)]
    entries = {
        f"{division}-{number}": Entry(
            id=f"{division}-{number}", name=f"Entry {division} {number}", short=str(number), division=division
        )
        for division in divisions
        for number in range(1, ENTRIES + 1)
    }
    events = {f"e{n}": Event(id=f"e{n}", name=f"Event {n}", workout=work, points="t") for n in range(1, EVENTS + 1)}
    heats = [
        Heat(
            id=f"{event}-{division}-{first}",
            name=f"Heat {first}",
            event=event,
            lanes={lane: f"{division}-{first + lane}" for lane in range(1, LANES + 1)},
        )
        for event in events
        for division in divisions
        for first in range(0, ENTRIES, LANES)
    ]
    return Competition(
        name="Bench Trials",
        divisions={each: Division(id=each, name=each) for each in divisions},
        entries=entries,
        points={"t": StepTable(first=400, step=9)},
        events=events,
        heats={heat.id: heat for heat in heats},
    )


class Sender:
    """One sender's running numbers through all heats."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.number = 0

    def say(self, kind: type[Fact], heat: str, at_ms: int, **fields: object) -> Fact:
        """Make the next fact."""
        self.number += 1
        stamp = {"id": f"{self.name}.{self.number}", "heat": heat, "at_ms": at_ms, "sender": self.name}
        return kind(**stamp, sequence=self.number, **fields)  # type: ignore[arg-type]


def performances(competition: Competition, *, every_rep: bool) -> Iterator[Fact]:
    """Give the facts of all heats in the order they were taken, lanes mixed as they come in."""
    table = Sender("table-bench")
    pads = {lane: Sender(f"lane-{lane}-bench") for lane in range(1, LANES + 1)}
    for number, heat in enumerate(competition.heats.values()):
        yield table.say(HeatStarted, heat.id, 0, unix_ms=1_800_000_000_000 + number * 1_200_000)
        work = [
            fact
            for lane in heat.lanes
            for fact in _performance(pads[lane], heat.id, lane, 5_000 + (lane * 7 + number * 3) % 90 * 10, every_rep)
        ]
        yield from sorted(work, key=lambda fact: fact.at_ms)
        yield from _afterwards(competition, heat, table, work)


def _performance(pad: Sender, heat: str, lane: int, pace_ms: int, every_rep: bool) -> list[Fact]:
    """Five rounds at a pace a repetition of its own."""
    facts = [pad.say(NoRepCalled, heat, 1, lane=lane, reason="depth")]
    at_ms = 0
    for stations in ROUNDS:
        for station in stations if every_rep else ():
            block = station.credit is Credit.BLOCK
            for _ in range(1 if block else station.amount):
                at_ms += pace_ms
                facts.append(pad.say(BlockCompleted if block else RepCounted, heat, at_ms, lane=lane))
        if not every_rep:
            at_ms += 26 * pace_ms
            facts.append(pad.say(RepCounted, heat, at_ms, lane=lane, n=sum(each.amount for each in stations)))
    facts.append(pad.say(Finished, heat, at_ms, lane=lane))
    return facts


def _afterwards(competition: Competition, heat: Heat, table: Sender, work: list[Fact]) -> Iterator[Fact]:
    """Scoresheets, signature, an appeal that is upheld, its correction, a deduction now and then, and a signature."""
    book = HeatBook(competition, heat)
    after = [table.say(HeatEnded, heat.id, CAP_MS)]
    after += [table.say(SheetChecked, heat.id, CAP_MS + lane, lane=lane, by="table") for lane in heat.lanes]
    for fact in [_started(heat), *work, *after]:
        book.add(fact)
    after.append(_signature(table, book, CAP_MS + 100))
    appeal = [table.say(CountCorrected, heat.id, CAP_MS + 200, lane=3, scored_reps=100, reason="appeal: sheet")]
    appeal.append(table.say(AppealDecided, heat.id, CAP_MS + 300, lane=3, by="Head", reason="sheet", upheld=True))
    if heat.id.endswith("-0"):
        appeal.append(table.say(PointsDeducted, heat.id, CAP_MS + 350, lane=2, points=5, reason="late at check-in"))
    for fact in appeal:
        book.add(fact)
    yield from [*after, *appeal, _signature(table, book, CAP_MS + 400)]


def _started(heat: Heat) -> Fact:
    return Sender("table-again").say(HeatStarted, heat.id, 0, unix_ms=0)


def _signature(table: Sender, book: HeatBook, at_ms: int) -> Fact:
    digest = result_digest(book.at(max(at_ms, book.last_ms())))
    return table.say(HeatSigned, book.heat.id, at_ms, by="Head Judge", digest=digest)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """Processor seconds from the file to the three standings, and how much was read."""

    facts: int
    read_s: float
    book_s: float
    standings_s: float
    correction_s: float
    standings: tuple[Series, ...]

    @property
    def total_s(self) -> float:
        """From opening the file to the last standing."""
        return self.read_s + self.book_s + self.standings_s


def write_journal(path: Path, facts: list[Fact]) -> None:
    """Write facts as the server does."""

    async def write() -> None:
        journal = SqliteJournal.open(path)
        drafts = [
            Draft(sender=fact.sender, sequence=fact.sequence, body=fact_line(fact), refusal=None) for fact in facts
        ]
        await journal.append(drafts, received_unix_ms=0)
        await journal.close()

    asyncio.run(write())


def bare_s(path: Path) -> float:
    """Read each line from the file, hash it and read its JSON, which no reader can do without: processor seconds."""
    start = time.process_time()
    with uncollected(), closing(sqlite3.connect(path)) as connection:
        for (body,) in connection.execute("SELECT body FROM line ORDER BY number"):
            sha256(body).digest()
            orjson.loads(body)
    return time.process_time() - start


def recompute(path: Path, competition: Competition) -> Timing:
    """Read the journal and give every division's standing."""
    start = time.process_time()
    with uncollected():
        facts = trusted_facts([line.body for line in sound_lines(path).lines if line.refusal is None])
        read = time.process_time()
        book = CompetitionBook(competition, facts)
        filled = time.process_time()
        now = book.at_last_facts()
        standings = tuple(division_series(now, division) for division in competition.divisions)
        end = time.process_time()
    return Timing(
        facts=len(facts),
        read_s=read - start,
        book_s=filled - read,
        standings_s=end - filled,
        correction_s=_correct(book),
        standings=standings,
    )


def _correct(book: CompetitionBook) -> float:
    start = time.process_time()
    book.add(Sender("table-late").say(CountCorrected, "e1-d1-0", CAP_MS + 500, lane=5, scored_reps=90, reason="sheet"))
    now = book.at_last_facts()
    for division in book.competition.divisions:
        division_series(now, division)
    return time.process_time() - start


def main() -> None:
    """Print the best of five runs for both densities."""
    competition = trials()
    for every_rep in (False, True):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "journal.sqlite"
            write_journal(path, list(performances(competition, every_rep=every_rep)))
            best = min((recompute(path, competition) for _ in range(5)), key=lambda each: each.total_s)
        density = "every rep a tap" if every_rep else "eight facts a performance"
        print(
            f"{density}: {best.facts} facts in {best.total_s:.3f} s "
            f"(read {best.read_s:.3f}, book {best.book_s:.3f}, standings {best.standings_s:.3f}); "
            f"a correction {best.correction_s:.3f} s",
        )


if __name__ == "__main__":
    main()
