"""Heats to draw: real frames, folded by the core from crafted facts. Names and competition are invented."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count
from typing import Any

from core.called import call
from core.folding import fold
from tallywire.core.facts import Fact, HeatSigned, HeatStarted, NoRepCalled, RepCounted, SheetChecked, Withdrawn
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.result_status import result_digest, result_status
from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Competition, Division, Entry, Event, Heat
from tallywire.core.model.workout import Credit, Plan, Station, Workout
from tallywire.core.ranking.points import PointsTable
from tallywire.core.standings.change import sight_of
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.event import event_frame
from tallywire.core.views.gaps import gap_frame
from tallywire.core.views.heat import clock_data, heat_frame
from tallywire.core.views.next import next_frame
from tallywire.core.views.public import public_frame, public_standings
from tallywire.core.views.result import result_frame
from tallywire.core.views.standings import standings_frame

Frame = dict[str, Any]

CAP_MS = 15 * 60_000

NAMES: dict[str, tuple[tuple[str, str], ...]] = {
    "short": (
        ("Mara Lindqvist", "Lindqvist"),
        ("Jo Abara", "Abara"),
        ("Tess Okonjo", "Okonjo"),
        ("Ana Ruiz", "Ruiz"),
        ("Ida Holm", "Holm"),
        ("Kim Vale", "Vale"),
        ("Noor Haddad", "Haddad"),
        ("Eva Brandt", "Brandt"),
        ("Lucía Peña", "Peña"),
        ("Zoë Marchetti", "Marchetti"),
    ),
    "forty": (
        ("Wilhelmina Christodoulopoulou-Østergaard", "Christodoulopoulou-Østergaard"),
        ("Maximiliane Freifrau von Weißenbäumchen-", "von Weißenbäumchen"),
        ("Āžuolė Šnipaitytė-Grybauskienė Žemaitytė", "Šnipaitytė-Grybauskienė"),
    ),
    "cjk": (
        ("欧阳 静怡", "欧阳"),
        ("佐々木 さくらこ", "佐々木"),
        ("김하늘빛나리", "김하늘"),
        ("司馬 相如之長孫女 靜嫻 合同代表隊 第二組 選手 甲", "司馬 靜嫻"),
    ),
    "rtl": (
        ("فاطمة الزهراء بنت عبد الرحمن", "فاطمة الزهراء"),
        ("נועה בן־דוד לוי", "נועה לוי"),
        ("مريم الخوارزمي", "مريم"),
    ),
}
SCENES = ("waiting", "running", "tie", "capped", "withdrawn")
WIDE = ("result", "event", "standings", "next", "public")
"""Views that look beyond the heat."""

FIVE_ROUNDS = (
    Station(movement="Sled haul", amount=1, unit="hauls", expected_ms=15_000),
    Station(movement="Shuttle touch", amount=40, credit=Credit.BLOCK, expected_ms=38_000),
    Station(movement="Sandbag clean", amount=10, expected_ms=26_000),
    Station(movement="Step-over with the bag", amount=10, expected_ms=44_000),
)
"""22 scored reps a round, five rounds to 110: values to work with by hand (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What to draw: how many lanes, whose names, and what has happened by `clock_ms`."""

    name: str = "running"
    lanes: int = 10
    names: str = "short"
    format: str = "for_time"
    divisions: int = 1
    mode: str = "live"
    clock_ms: int = 402_000

    @property
    def id(self) -> str:
        """Name the scene for a test."""
        return f"{self.lanes}-{self.names}-{self.name}"


def frame(scene: Scene, view: str = "heat") -> Frame:
    """Give the frame the server would send for a scene, with its clock running from this moment."""
    competition = competition_of(scene)
    facts = facts_of(scene, competition)
    state = fold(competition, "h", facts, clock_of(scene))
    if view in WIDE:
        return wide_frame(scene, view) | {"mode": scene.mode, "speed": 1}
    if view == "call":
        made = call(competition, facts, "h", clock_of(scene)) | {"clock": clock_data(_from_now(state, scene))}
        return made | {"mode": scene.mode, "speed": 1}
    made = (gap_frame if view == "gaps" else heat_frame)(competition, _from_now(state, scene))
    return made | {"mode": scene.mode, "speed": 1}


def wide_frame(scene: Scene, view: str) -> Frame:
    """Give a view that looks beyond the heat: in a competition with an event and a heat before it, and one after."""
    competition = wide_competition(scene)
    facts = wide_facts(scene, competition)
    now = CompetitionBook(competition, facts).at_clocks({"h": clock_of(scene)}, others_ms=2 * CAP_MS)
    heat = now.heats["h"]
    state = _from_now(heat.state, scene)
    clock = {"clock": clock_data(state)}
    if view == "result":
        return result_frame(competition, state, result_status(heat).stage, in_event(now, heat))
    if view == "event":
        return event_frame(now, heat) | clock
    if view == "next":
        return next_frame(now, heat) | clock
    if view == "public":
        return public_frame(now, heat, held=()) | clock | {"standings": public_standings(now, heat, held=())}
    return standings_frame(competition, replace(sight_of(now, heat), state=state))


def wide_competition(scene: Scene) -> Competition:
    """Give the competition of a scene with heat "u" of an event before, heat "g" before this one, and heat "n" next."""
    work = competition_of(scene)
    names = NAMES[scene.names]
    more: dict[str, Entry] = {}
    for n in range(scene.lanes // 2):
        name, short = names[n % len(names)]
        more[f"g{n}"] = Entry(id=f"g{n}", name=name, short=short, division=f"d{n % scene.divisions}")
    lanes = {n + 1: entry for n, entry in enumerate(more)}
    before = replace(work.events["v"], id="u", name="Event 3 · Long Carry")
    heats = {
        "u": Heat(id="u", name="Heat 1", event="u", lanes=work.heats["h"].lanes),
        "g": Heat(id="g", name="Heat 1 of 3", event="v", lanes=lanes),
        "h": work.heats["h"],
        "n": Heat(id="n", name="Heat 3 of 3", event="v", lanes={n: f"e{n}" for n in range(1, scene.lanes + 1)}),
    }
    if scene.name == "official":
        del heats["n"]
    return replace(work, entries={**work.entries, **more}, events={"u": before, **work.events}, heats=heats)


def wide_facts(scene: Scene, competition: Competition) -> list[Fact]:
    """Give the facts of all heats of the scene's competition; when it is official, with every signature."""
    done = replace(scene, name="finishing", clock_ms=CAP_MS)
    facts = facts_of(scene, competition)
    for heat in ("u", "g"):
        facts += _of_heat(facts_of(replace(done, lanes=len(competition.heats[heat].lanes)), competition, heat), heat)
    return facts + _signatures(competition, facts) if scene.name == "official" else facts


def _of_heat(facts: list[Fact], heat: str) -> list[Fact]:
    return [replace(fact, id=f"{heat}-{fact.id}", heat=heat, sender=f"{heat}-{fact.sender}") for fact in facts]


def _signatures(competition: Competition, facts: list[Fact]) -> list[Fact]:
    book = CompetitionBook(competition, facts)
    found: list[Fact] = []
    for name, heat in book.at_clocks({}, others_ms=2 * CAP_MS).heats.items():
        stamp = {"heat": name, "at_ms": CAP_MS + 1, "sender": f"sign-{name}"}
        lanes = list(heat.heat.lanes)
        found += [
            SheetChecked(id=f"check-{name}-{n}", sequence=n, lane=n, by="table", **stamp)  # type: ignore[arg-type]
            for n in lanes
        ]
        digest = result_digest(heat)
        last = len(lanes) + 1
        found.append(HeatSigned(id=f"sign-{name}", sequence=last, by="judge", digest=digest, **stamp))  # type: ignore[arg-type]
    return found


def competition_of(scene: Scene) -> Competition:
    """Give a competition with the one heat of the scene."""
    names = NAMES[scene.names]
    divisions = {f"d{n}": Division(id=f"d{n}", name=("Women", "Men", "Pairs")[n]) for n in range(scene.divisions)}
    entries = {
        f"e{lane}": Entry(
            id=f"e{lane}",
            name=names[(lane - 1) % len(names)][0],
            short=names[(lane - 1) % len(names)][1],
            division=f"d{lane % scene.divisions}",
            home="Northside Hall",
        )
        for lane in range(1, scene.lanes + 1)
    }
    rounds = (FIVE_ROUNDS,) * (5 if scene.format == "for_time" else 1)
    workout = Workout(format=scene.format, rounds=rounds, time_cap_ms=CAP_MS)
    return Competition(
        name="Harbour Throwdown",
        divisions=divisions,
        entries=entries,
        points={"table": PointsTable(tuple(range(100, 0, -5)))},
        events={"v": Event(id="v", name="Event 4 · Rope and Bell", workout=workout, points="table")},
        heats={"h": Heat(id="h", name="Heat 2 of 3", event="v", lanes={n: f"e{n}" for n in range(1, scene.lanes + 1)})},
    )


def clock_of(scene: Scene) -> int:
    """Give the heat clock of the scene."""
    return {"waiting": 0, "capped": CAP_MS, "official": CAP_MS}.get(scene.name, scene.clock_ms)


def facts_of(scene: Scene, competition: Competition, heat: str = "h") -> list[Fact]:
    """Give the facts that lead to the scene."""
    if scene.name == "waiting":
        return []
    event = competition.events["v"]
    plan = format_of(event.workout).counting.plan(event.workout)
    started = HeatStarted(id="s", heat="h", at_ms=0, sender="table-1", sequence=1, unix_ms=0)
    lanes = [fact for lane in competition.heats[heat].lanes for fact in _lane_facts(scene, plan, lane)]
    return [started, *lanes]


def _lane_facts(scene: Scene, plan: Plan, lane: int) -> Iterator[Fact]:
    numbers = count(1)
    sender = f"lane-{lane}-test"
    until = clock_of(scene)
    pace = _pace(scene, lane)
    for at_ms, units in _work(plan, pace):
        if at_ms > until or (scene.name == "withdrawn" and lane % 5 == 0 and at_ms > until * 0.6):
            break
        n = next(numbers)
        yield RepCounted(id=f"{sender}-{n}", heat="h", at_ms=at_ms, sender=sender, sequence=n, lane=lane, n=units)
    for _ in range(lane % 3):
        n = next(numbers)
        yield NoRepCalled(id=f"{sender}-{n}", heat="h", at_ms=min(60_000, until), sender=sender, sequence=n, lane=lane)
    if scene.name == "withdrawn" and lane % 5 == 0:
        n = next(numbers)
        yield Withdrawn(id=f"{sender}-{n}", heat="h", at_ms=until, sender=sender, sequence=n, lane=lane)


def _pace(scene: Scene, lane: int) -> float:
    """How slow a lane is against what is expected; in a tie, two by two alike."""
    rank = (lane * 7) % max(scene.lanes, 1)
    if scene.name == "tie":
        rank -= rank % 2
    slowest = 0.55 if scene.name == "capped" else 0.5
    return 1.12 + slowest * rank / max(scene.lanes, 1) + (0.14 if scene.name == "capped" else 0)


def _work(plan: Plan, pace: float) -> Iterator[tuple[int, int]]:
    """Give (at_ms, units) for every unit of work, at a steady pace; a block comes whole."""
    clock = 0.0
    for _ in range(plan.laps or 12):
        for leg in plan.legs:
            station = leg.station
            if station.credit is Credit.BLOCK:
                clock += station.expected_ms * pace
                yield round(clock), station.amount
                continue
            for _unit in range(station.amount):
                clock += station.expected_ms * pace / station.amount
                yield round(clock), 1


def _from_now(state: HeatState, scene: Scene) -> HeatState:
    if state.started is None:
        return state
    now_ms = round(time.time() * 1000)
    return replace(state, started=replace(state.started, unix_ms=now_ms - clock_of(scene)))
