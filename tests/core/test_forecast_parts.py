"""Events with several scores: what all of them together make of the overall standing, draw by draw."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from random import Random

import numpy as np
import pytest

from core.called import call
from core.examples import competition_of, recorded
from core.folding import fold
from core.orders_by_force import random_ruled_race
from core.samples import HEAT, Pad, competition, full_round, seeds, workout
from tallywire.core.call.steps import see
from tallywire.core.clinching.event_race import standing_swings
from tallywire.core.clinching.race import Contender, NotWorkedOut
from tallywire.core.clinching.race import Race as NeededRace
from tallywire.core.facts import PenaltyGiven
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.forecast.ends import play_out
from tallywire.core.forecast.format_forecast import model_of
from tallywire.core.forecast.of_event import event_scene, overall_of
from tallywire.core.forecast.scene import Result, Runner, Scene, ScoredPart
from tallywire.core.forecast.standing import chances
from tallywire.core.model.competition import Competition, Measure, Part
from tallywire.core.model.workout import Mark, Plan, Station, Workout
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.places import places
from tallywire.core.ranking.points import FormulaTable, PointsTable, TiePolicy, award
from tallywire.core.ranking.standing import Entrant, EventScores, Scored, StandingRules, standing
from tallywire.core.ranking.tie_rules import Order
from tallywire.core.standings.event_table import event_table
from tallywire.core.views.call_outlook import OVER, UNDER
from tallywire.formats.ladder.rules import LadderRules

NAMES = [f"e{n}" for n in range(6)]
DRAWS = 60


def races(seed: int, parts: int) -> list[NeededRace]:
    """Open scores of one event under random rules without drops, with tables of their own."""
    base = replace(random_ruled_race(seed, len(NAMES)), settled=(), passed=0, unpaid=())
    base = replace(base, rules=replace(base.rules, drop_worst=0))
    if base.rules.order is Order.FEWEST:
        return [base, replace(base, table=FormulaTable(Formula("2 * place"))), base][:parts]
    return [base, replace(base, table=PointsTable((50, 30, 30, 10))), base][:parts]


def engine(asked: list[NeededRace], keys: list[dict[str, float]]) -> tuple[dict[str, int], dict[str, Fraction]]:
    """Let the standings engine place everybody after the event, from the sort keys of its scores; and what it gives."""
    first = asked[0]
    past = [
        EventScores(event=f"past {n}", scores={each.entry: each.scores()[n] for each in first.contenders})
        for n in range(len(first.contenders[0].scores()))
    ]
    scores = []
    for number, (race, key) in enumerate(zip(asked, keys, strict=True)):
        placed = places(key) | dict.fromkeys(first.out, len(key) + 1)
        none = dict.fromkeys(first.out, race.nothing)
        points = award(placed, race.table, ties=race.ties, field=race.size, no_result=none)
        own = {
            entry: Scored(place=place, points=points[entry], has_result=entry not in first.out)
            for entry, place in placed.items()
        }
        scores.append(EventScores(event=f"now {number}", scores=own))
    entrants = [Entrant(entry=each.entry, before=each.brought) for each in first.contenders]
    gained = {each.entry: sum((part.scores[each.entry].points for part in scores), Fraction(0)) for each in entrants}
    return {row.entry: row.place for row in standing(entrants, [*past, *scores], first.rules)}, gained


@pytest.mark.slow
@pytest.mark.parametrize("parts", [2, 3])
@pytest.mark.parametrize("seed", seeds(range(40), quick=3))
def test_drawn_overall_places_are_those_of_the_standings_engine(seed: int, parts: int) -> None:
    """Whatever is drawn for the scores, shares of overall places are those of the engine asked draw by draw."""
    asked, dice = races(seed, parts), Random(seed)
    floor, rest = NAMES[:4], NAMES[4:]
    keys = [np.array([[dice.randint(1, 4) for _ in range(DRAWS)] for _ in floor], dtype=float) for _ in range(parts)]
    fixed = {entry: tuple(float(dice.randint(1, 4)) for _ in range(parts)) for entry in rest}
    out = set(asked[0].out)
    for table in keys:
        table[[entry in out for entry in floor]] = np.inf
    scene = Scene(
        plan=Plan(workout(), laps=1),
        runners=[Runner(lane=n, entry=entry, division="d", out=entry in out) for n, entry in enumerate(floor)],
        now_ms=0,
        parts=tuple(ScoredPart(at_ms=n) for n in range(parts)),
        others=[
            Result(entry=entry, division="d", **({} if entry in out else {"key": 1.0, "part_keys": own}))  # type: ignore[arg-type]
            for entry, own in fixed.items()
        ],
        overall={"d": overall_of(*asked)},
    )
    found = chances(scene, keys[0], part_keys=keys)
    counts = [Counter[int]() for _ in floor]
    for draw in range(DRAWS):
        drawn = [
            {entry: float(table[row, draw]) for row, entry in enumerate(floor) if entry not in out}
            | {entry: own[part] for entry, own in fixed.items() if entry not in out}
            for part, table in enumerate(keys)
        ]
        placed, gained = engine(asked, drawn)
        for row, entry in enumerate(floor):
            counts[row][placed[entry]] += 1
            if entry not in out:
                assert found.points[row][draw] == pytest.approx(float(gained[entry]), rel=1e-6)
    for row, each in enumerate(counts):
        assert found.overall[row] == pytest.approx([each[place] / DRAWS for place in range(1, len(NAMES) + 1)])


@pytest.mark.parametrize("settled", [0, 2])
@pytest.mark.parametrize("before", [0, 15])
@pytest.mark.parametrize("worth", [(60, 50, 40, 10, 5, 1), (60, 50, 50, 10, 5, 1), (60, 50)])
def test_overall_places_after_a_first_event_are_those_of_the_standings_engine(
    worth: tuple[int, ...], before: int, settled: int
) -> None:
    """Four race against two who have raced, or have not; nobody brings points, or one of them does; a table that tells
    all places apart, or not: in every draw the shares are those of the engine."""
    dice, floor, rest = Random(7), NAMES[:4], NAMES[4:]
    contenders = tuple(Contender(entry=each, points=before if each == NAMES[5] else 0) for each in NAMES)
    rules, out = StandingRules(ties=()), () if settled else tuple(rest)
    race = NeededRace(contenders=contenders, table=PointsTable(worth), rules=rules, out=out)
    keys = np.array([[dice.randint(1, 9) for _ in range(DRAWS)] for _ in floor], dtype=np.float32)
    fixed = dict(zip(rest, (2.0, 6.0), strict=True)) if settled else {}
    scene = Scene(
        plan=Plan(workout(), laps=1),
        runners=[Runner(lane=n, entry=entry, division="d") for n, entry in enumerate(floor)],
        now_ms=0,
        others=[Result(entry=entry, division="d", finish_ms=round(key)) for entry, key in fixed.items()],
        overall={"d": overall_of(race)},
    )
    found = chances(scene, keys)
    placed = [engine([race], [dict(zip(floor, draw, strict=True)) | fixed])[0] for draw in keys.T.tolist()]
    for row, entry in enumerate(floor):
        won = Counter(draw[entry] for draw in placed)
        assert found.overall[row] == pytest.approx([won[place] / DRAWS for place in range(1, len(NAMES) + 1)])


def test_the_scores_of_another_heat_have_their_penalties_off() -> None:
    """Of a score by reps at a time the penalty in reps is taken off, and at a mark that in time is added."""
    parts = (
        Part(id="reps", name="Reps", measure=Measure.REPS_AT, points="table", at_ms=10_000),
        Part(id="mark", name="Mark", measure=Measure.TIME_AT, points="table", mark=Mark(round=1, station=1)),
    )
    base = competition(lanes=1)
    work = replace(base, events={"event": replace(base.events["event"], parts=parts)})
    fine = PenaltyGiven(
        id="fine", heat=HEAT, at_ms=20_000, sender="table-a", sequence=1, lane=1, reason="lane", reps=3, ms=5_000
    )
    state = fold(work, HEAT, [Pad("starter").start(), *full_round(Pad("a", 1), 0), fine], 30_000)
    found = model_of(state.event.workout).result(state, state.lanes[1])
    assert found.part_keys == (-7.0, 6_000.0)


def sluice(*parts: Part) -> Competition:
    """The event of two scores, or with other scores."""
    base = competition_of("estuary")
    event = base.events["sluice"]
    return replace(base, events={**base.events, "sluice": replace(event, parts=parts or event.parts)})


@pytest.mark.parametrize("at_ms", [30_000, 90_000, 150_000])
def test_an_event_with_two_scores_has_chances_overall(at_ms: int) -> None:
    """In the middle of it a lane's chances add up to one, and who wins both scores in the end is the likeliest."""
    facts = recorded("estuary-sluice")
    lanes = call(sluice(), facts, "sluice", at_ms)["lanes"]
    for lane in lanes.values():
        assert sum(lane["outlook"]["overall_places"]) == pytest.approx(1, abs=0.03)
    leads = {number: lane["outlook"]["overall_places"][0] for number, lane in lanes.items()}
    assert max(leads, key=lambda number: leads[number]) == "1"


def test_the_place_in_the_event_is_by_its_first_score() -> None:
    """When all have done the first round, every draw has the places in that; they are not told as proved while the heat
    is open.
    """
    lanes = call(sluice(), recorded("estuary-sluice"), "sluice", 100_000)["lanes"]
    for lane in lanes.values():
        assert lane["outlook"]["event_places"] == [UNDER] * (lane["in_event"]["place"] - 1) + [OVER]
    assert lanes["1"]["outlook"]["heat_places"] != [1]


def test_a_lift_may_be_scored_twice() -> None:
    """The heaviest lift under two tables: what both make of the standing is told."""
    base = competition_of("estuary")
    twice = tuple(Part(id=name, name=name, measure=Measure.RESULT, points="table") for name in ("one", "two"))
    work = replace(base, events={**base.events, "anchor": replace(base.events["anchor"], parts=twice)})
    lanes = call(work, recorded("estuary-anchor"), "anchor", 270_000)["lanes"]
    once = call(base, recorded("estuary-anchor"), "anchor", 270_000)["lanes"]
    for number, lane in lanes.items():
        assert lane["outlook"]["overall_places"] == once[number]["outlook"]["overall_places"]
        assert lane["outlook"]["points"]["median"] == 2 * once[number]["outlook"]["points"]["median"]


def ladder(*parts: Part) -> Competition:
    """The recorded ladder, with scores of its own."""
    base = competition_of("estuary")
    event = base.events["lock-ladder"]
    return replace(base, events={**base.events, "lock-ladder": replace(event, parts=parts)})


AT_BAR = Part(id="bar", name="Bar", measure=Measure.TIME_AT, points="table", mark=Mark(round=1, station=2))
AT_TIME = Part(id="time", name="Time", measure=Measure.REPS_AT, points="table", at_ms=150_000)
WHOLE = Part(id="whole", name="Whole", measure=Measure.RESULT, points="table")


@pytest.mark.parametrize("part", [AT_BAR, AT_TIME], ids=["at a bar", "at a time"])
def test_a_ladder_scored_at_a_bar_or_a_time_is_forecast(part: Part) -> None:
    """Before that moment every place of the score has a chance; after it all draws agree with the event's table."""
    work, facts = ladder(part, WHOLE), recorded("estuary-lock-ladder")
    early = call(work, facts, "lock-ladder", 20_000)["lanes"].values()
    assert any(len(lane["outlook"]["event_places"]) > 1 for lane in early if "outlook" in lane)
    for lane in call(work, facts, "lock-ladder", 10**9)["lanes"].values():
        if "outlook" in lane:
            assert lane["outlook"]["event_places"] == [0] * (lane["in_event"]["place"] - 1) + [1]


def test_a_rep_of_a_ladder_at_a_time_is_drawn_between_now_and_the_end_of_its_window() -> None:
    """One lane has no lift at 0:30 of a minute's window; more draws have the bar at 0:55 than at 0:35, none at 0:30."""
    windows = LadderRules(window_ms=60_000)
    stations = tuple(Station(movement=f"bar {n}", amount=2) for n in range(3))
    plan = Plan(Workout(format="ladder", rounds=(stations,), time_cap_ms=180_000, rules=windows), laps=1)
    parts = tuple(ScoredPart(at_ms=at_ms) for at_ms in (30_000, 35_000, 55_000, 60_000))
    asked = Scene(plan=plan, runners=[Runner(lane=1, entry="e1", division="d")], now_ms=30_000, parts=parts)
    ends = model_of(plan.workout).play(asked, seed=1, draws=2000)
    at = [float(-keys.mean()) for keys in ends.part_keys]
    assert at[0] == 0 < at[1] < at[2] < at[3] <= 2
    assert ends.scored_reps is not None
    assert (ends.scored_reps[0] >= -ends.part_keys[3][0]).all()


@pytest.mark.parametrize(
    ("mark_units", "begin_ms", "end_ms"), [(2, 30_000, 60_000), (3, 60_000, 120_000), (6, 120_000, 180_000)]
)
def test_a_bar_of_a_ladder_is_passed_in_what_is_left_of_its_window(mark_units: int, begin_ms: int, end_ms: int) -> None:
    """At 0:30 of windows of a minute: the first bar in its second half, a later one anywhere in its own minute."""
    windows = LadderRules(window_ms=60_000)
    stations = tuple(Station(movement=f"bar {n}", amount=2) for n in range(3))
    plan = Plan(Workout(format="ladder", rounds=(stations,), time_cap_ms=180_000, rules=windows), laps=1)
    part = ScoredPart(mark_units=mark_units)
    asked = Scene(plan=plan, runners=[Runner(lane=1, entry="e1", division="d")], now_ms=30_000, parts=(part,))
    [keys] = model_of(plan.workout).play(asked, seed=1, draws=2000).part_keys
    times = keys[(keys > 0) & (keys <= 180_000)]
    assert len(times) > 500
    assert begin_ms <= times.min() < begin_ms + 1000
    assert end_ms - 1000 < times.max() <= end_ms


def test_who_has_not_passed_the_mark_is_told_apart_by_reps() -> None:
    """Of two that cannot pass the mark any more, the one with more reps is ahead, as in the event's table."""
    late = Part(id="late", name="Late", measure=Measure.TIME_AT, points="table", mark=Mark(round=3, station=2))
    facts = [fact for fact in recorded("estuary-sluice") if fact.at_ms <= 60_000]
    work = sluice(late, Part(id="whole", name="Whole", measure=Measure.RESULT, points="table"))
    snapshot = CompetitionBook(work, facts).at_clocks({}, others_ms=10**9)
    table = event_table(snapshot, work.events["sluice"], late, "open")
    scene = event_scene(work, snapshot.heats["sluice"].state, others=(), overall={}, learned=None)
    keys = play_out(scene, seed=1, draws=5).part_keys[0]
    assert len({row.place for row in table}) > 1
    for draw in keys.T:
        found = places({runner.lane: float(key) for runner, key in zip(scene.runners, draw, strict=True)})
        assert found == {row.lane: row.place for row in table}


def test_at_the_end_the_chances_are_the_standing() -> None:
    """With every result in, the overall place and the points of both scores are certain."""
    facts = recorded("estuary-sluice")
    frame = call(sluice(), facts, "sluice", 10**9)
    rows = {row["entry"]: row for row in frame["overall"]["open"]["rows"]}
    for lane in frame["lanes"].values():
        outlook = lane["outlook"]
        assert outlook["overall_places"] == [0] * (rows[lane["entry"]]["place"] - 1) + [1]
        assert outlook["points"]["median"] == rows[lane["entry"]]["total"]


@pytest.mark.slow
@pytest.mark.parametrize("least", [0, 60])
@pytest.mark.parametrize("ties", TiePolicy)
@pytest.mark.parametrize("rules", [{"drop_worst": 1}, {"order": Order.FEWEST}], ids=str)
@pytest.mark.parametrize("several", [False, True])
def test_points_are_forecast_whatever_the_rules(
    *, several: bool, rules: dict[str, object], ties: TiePolicy, least: int
) -> None:
    """Also where the standing is not worked out: a spread from few to many, and at the end what the event gave."""
    base = sluice() if several else competition_of("estuary")
    event = base.events["sluice"]
    work = replace(
        base,
        points={"table": FormulaTable(Formula("place"))} if "order" in rules else base.points,
        events={
            "sluice": replace(
                event,
                parts=event.parts if several else (),
                ties=ties,
                workout=replace(event.workout, minimum_reps=least),
            )
        },
        heats={"sluice": base.heats["sluice"]},
        standing_rules=StandingRules(**rules),  # type: ignore[arg-type]
    )
    facts = recorded("estuary-sluice")
    for lane in call(work, facts, "sluice", 60_000)["lanes"].values():
        points = lane["outlook"]["points"]
        assert points["low_95"] <= points["low_50"] <= points["median"] <= points["high_50"] <= points["high_95"]
    frame = call(work, facts, "sluice", 10**9)
    snapshot = CompetitionBook(work, facts).at_clocks({}, others_ms=10**9)
    sight = see(snapshot, snapshot.heats["sluice"])
    swings = standing_swings(work, work.events["sluice"], sight.ground.before["open"], sight.rows["open"])
    gained = {each.entry: float(each.gained) for each in swings}
    for lane in frame["lanes"].values():
        assert lane["outlook"]["points"]["median"] == pytest.approx(gained[lane["entry"]], abs=0.5)


@pytest.mark.parametrize("at_ms", [60_000, 10**9])
def test_scores_drawn_of_what_is_known_rank_as_the_event_does(at_ms: int) -> None:
    """A time at a mark that all have passed, and a count at a time that has come, are known in every draw."""
    early = Part(id="early", name="Early", measure=Measure.TIME_AT, points="table", mark=Mark(round=1, station=1))
    count = Part(id="count", name="Count", measure=Measure.REPS_AT, points="table", at_ms=60_000)
    work, facts = sluice(early, count), recorded("estuary-sluice")
    book = CompetitionBook(work, [fact for fact in facts if fact.at_ms <= at_ms])
    snapshot = book.at_clocks({}, others_ms=at_ms)
    scene = event_scene(work, snapshot.heats["sluice"].state, others=(), overall={}, learned=None)
    drawn = play_out(scene, seed=1, draws=50).part_keys
    for part, keys in zip((early, count), drawn, strict=True):
        table = event_table(snapshot, work.events["sluice"], part, "open")
        order = {row.lane: row.place for row in table}
        assert (keys == keys[:, :1]).all()
        assert places({runner.lane: float(keys[row, 0]) for row, runner in enumerate(scene.runners)}) == order


def test_drops_of_several_open_scores_are_not_worked_out() -> None:
    """Which score is dropped depends on all of them: no answer is given. Six worths of one and six of the other could
    leave each of six entries with 216 sums.
    """
    asked = [replace(each, rules=replace(each.rules, drop_worst=1)) for each in races(3, 2)]
    with pytest.raises(NotWorkedOut, match=r"^found 216 standings after 2 scores.*, and no drops$"):
        overall_of(*asked)
