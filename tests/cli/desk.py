"""A small competition on disk and the recording of its first event, for tests of what the results desk prints."""

from __future__ import annotations

from itertools import count
from pathlib import Path

from tallywire.core.facts import (
    AppealDecided,
    CountCorrected,
    Fact,
    HeatEnded,
    HeatSigned,
    HeatStarted,
    PointsDeducted,
    RepCounted,
    SheetChecked,
)
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.result_status import result_digest
from tallywire.shell.files import load_competition
from tallywire.wire.fact_lines import fact_line

NAMES = ('Ada "Ace" O\'Neil, Jr.', "Bea <b>Bold</b>", "Cleo & Co", "Dot")
"""Hostile to CSV and HTML."""

_HEAD = """
start_lists = ["final.csv"]

[competition]
name = "Quay & <Pier> Trials"

[[division]]
id = "women"
name = "Women"

[[points]]
id = "steps"
first = 100
step = 10

[[points]]
id = "last"
formula = "50 * (field - place + 1)"

[standings]
tables_from = [{ event = "final", points = "last" }]

[[cut]]
after = "sled"
size = 3

[[event]]
id = "sled"
name = "Sled"

[event.workout]
format = "amrap"
time_cap = "10:00"

[[event.workout.station]]
movement = "Sled haul"
amount = 10
loads = { women = "60 kg" }

[[event.workout.station]]
movement = "Shuttle touch"
amount = 40
credit = "block"

[[event]]
id = "final"
name = "Final"

[event.workout]
format = "for_time"
rounds = 2
time_cap = "5:00"

[[event.workout.station]]
movement = "Box step-over"
amount = 10

[[heat]]
id = "sled-1"
name = "Sled, heat 1"
event = "sled"
lanes = { 1 = "c", 2 = "d" }

[[heat]]
id = "sled-2"
name = "Sled, heat 2"
event = "sled"
lanes = { 1 = "a", 2 = "b" }

[[heat]]
id = "final-1"
name = "Final, first heat"
event = "final"
seeded_later = true

[[heat]]
id = "final-2"
name = "Final, last heat"
event = "final"
seeded_later = true
"""
REPS = {"sled-1": {1: 7, 2: 3}, "sled-2": {1: 9, 2: 7}}
"""By heat and lane: a has 9, b and c 7 in different heats, d 3."""
CAP_MS = 600_000


def put_competition(folder: Path) -> Path:
    """Write the competition, its last event not yet seeded."""
    entries = "".join(
        f"\n[[entry]]\nid = \"{each}\"\nname = '''{name}'''\ndivision = \"women\"\n"
        for each, name in zip("abcd", NAMES, strict=True)
    )
    (folder / "final.csv").write_text("heat,lane,entry\n", encoding="utf-8")
    (folder / "trials.toml").write_text(_HEAD + entries, encoding="utf-8")
    return folder / "trials.toml"


class Table:
    """The scoring table and all pads in one: makes facts in the order they are taken."""

    def __init__(self, competition: Path) -> None:
        self.competition = load_competition(competition)
        self.facts: list[Fact] = []
        self._numbers = count(1)

    def say(self, kind: type[Fact], heat: str, at_ms: int, **fields: object) -> None:
        """Take the next fact."""
        number = next(self._numbers)
        stamp = {"id": f"table-x.{number}", "heat": heat, "at_ms": at_ms, "sender": "table-x", "sequence": number}
        self.facts.append(kind(**stamp, **fields))  # type: ignore[arg-type]

    def race(self, heat: str) -> None:
        """Run a heat to its end."""
        self.say(HeatStarted, heat, 0, unix_ms=1_800_000_000_000)
        for lane, reps in REPS[heat].items():
            self.say(RepCounted, heat, 1000 * lane, lane=lane, n=reps)
        self.say(HeatEnded, heat, CAP_MS)

    def check(self, heat: str) -> None:
        """Check the scoresheets of both lanes."""
        for lane in (1, 2):
            self.say(SheetChecked, heat, CAP_MS + lane, lane=lane, by="Table")

    def sign(self, heat: str, at_ms: int) -> None:
        """The head judge signs what stands."""
        now = CompetitionBook(self.competition, self.facts).at_last_facts()
        self.say(HeatSigned, heat, at_ms, by="Hedda Judge", digest=result_digest(now.heats[heat]))

    def appeal(self, heat: str, lane: int, reps: int) -> None:
        """An appeal is upheld and the count set to what is right."""
        self.say(CountCorrected, heat, CAP_MS + 1000, lane=lane, scored_reps=reps, reason="video")
        self.say(AppealDecided, heat, CAP_MS + 1001, lane=lane, by="Hedda Judge", reason="one rep missed", upheld=True)

    def deduct(self, heat: str, lane: int, points: int) -> None:
        """Points go off an entry's standing."""
        self.say(PointsDeducted, heat, CAP_MS + 500, lane=lane, points=points, reason="late")

    def write(self, path: Path) -> Path:
        """Write the recording."""
        path.write_bytes(b"".join(fact_line(fact) + b"\n" for fact in self.facts))
        return path


def sled_event(folder: Path) -> tuple[Path, Path, Table]:
    """The competition and a recording of its first event, both heats signed."""
    competition = put_competition(folder)
    table = Table(competition)
    for heat in REPS:
        table.race(heat)
        table.check(heat)
        table.sign(heat, CAP_MS + 100)
    return competition, table.write(folder / "sled.ndjson"), table
