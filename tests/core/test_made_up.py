"""Made-up heats: of any format, the same again from a seed, taken by the server, and plausible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from random import Random, SystemRandom
from statistics import correlation, mean, median

import orjson
import pytest

from core.samples import HEAT, workout
from core.samples import competition as one_event
from shell.rehearsed import SCENARIOS
from tallywire.cli.simulate import simulated
from tallywire.core.facts import Exchanged, Fact, FactVoided, RepCounted, Withdrawn
from tallywire.core.fold.book import LATER_MS, CompetitionBook
from tallywire.core.fold.heat import HeatState
from tallywire.core.made_up import heat as made_up
from tallywire.core.made_up.format_work import Bout, Draft, of_team, tap
from tallywire.core.made_up.heat import true_work
from tallywire.core.made_up.pace_model import Athlete, Point, UnitDone
from tallywire.core.made_up.worlds import WORLDS
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Station, Team, TeamForm
from tallywire.shell.files import load_competition
from tallywire.shell.made_up import seeded
from tallywire.wire.fact_lines import fact_line, read_fact

FILES = ("saltmarsh", "estuary")


def work(name: str) -> Competition:
    """A shipped competition."""
    return load_competition(SCENARIOS / f"{name}.toml")


def made(competition: Competition, world: str, seed: int, *heats: str) -> list[Fact]:
    """The facts of its heats in a world."""
    wanted = [heat for heat in competition.heats.values() if heat.lanes and (not heats or heat.id in heats)]
    return list(simulated(competition, wanted, world=world, seed=seed))


def state(competition: Competition, facts: Sequence[Fact], heat: str) -> HeatState:
    """A heat as it ends."""
    return CompetitionBook(competition, facts).at_clocks({}, others_ms=LATER_MS).heats[heat].state


@pytest.mark.parametrize("world", WORLDS)
def test_a_seed_gives_the_same_again(world: str) -> None:
    """The same seed gives the same lines, another seed others; one heat alone is as it was among all."""
    competition = work("estuary")
    facts = made(competition, world, 7)
    assert [fact_line(fact) for fact in facts] == [fact_line(fact) for fact in made(competition, world, 7)]
    assert facts != made(competition, world, 8)
    heat = facts[-1].heat
    alone = [fact for fact in made(competition, world, 7, heat) if hasattr(fact, "lane")]
    assert alone == [fact for fact in facts if fact.heat == heat and hasattr(fact, "lane")]


@pytest.mark.parametrize("name", FILES)
def test_every_format_is_worked(name: str) -> None:
    """In every heat of both competitions, which have all formats and team forms, every lane does what counts."""
    competition, seed = work(name), SystemRandom().randrange(10**6)
    facts = made(competition, "clean", seed)
    assert {fact.heat for fact in facts} == {heat.id for heat in competition.heats.values() if heat.lanes}
    for heat in {fact.heat for fact in facts}:
        lanes = state(competition, facts, heat).lanes
        assert all(lane.tally.done > 0 or lane.scored_reps > 0 for lane in lanes.values()), (seed, heat)
    assert [read_fact(orjson.loads(fact_line(fact))) for fact in facts] == facts


@pytest.mark.parametrize("world", ["clean", "rough"])
def test_senders_number_their_facts_without_a_gap(world: str) -> None:
    """Each sender counts 1, 2, 3 … in the order in which its facts arrive, outages and slips or not."""
    facts = made(work("estuary"), world, SystemRandom().randrange(10**6))
    for sender in {fact.sender for fact in facts}:
        numbers = [fact.sequence for fact in facts if fact.sender == sender]
        assert numbers == list(range(1, len(numbers) + 1))


def test_slips_are_put_right() -> None:
    """Bad judges take back what they tapped twice, facts of an outage come late, and nobody does more than the work."""
    competition = work("saltmarsh")
    rough = [fact for seed in range(5) for fact in made(competition, "rough", seed, "women-2")]
    voided = [fact for fact in rough if isinstance(fact, FactVoided)]
    assert voided
    assert {each.voids for each in voided} <= {fact.id for fact in rough if isinstance(fact, RepCounted)}
    one = made(competition, "rough", 3, "women-2")
    assert [fact.at_ms for fact in one] != sorted(fact.at_ms for fact in one), "nothing came late"
    final = state(competition, one, "women-2")
    plan = final.plan
    assert all(lane.tally.done <= (plan.total_done or 0) for lane in final.lanes.values())


def test_a_field_tires_as_fields_do() -> None:
    """By the median a last round is 5 to 30 % slower than the first; in a steady world less (no source)."""
    competition = work("saltmarsh")
    slower = {world: _slower(competition, world) for world in ("fade", "steady")}
    assert 1.05 <= slower["fade"] <= 1.30
    assert slower["steady"] < slower["fade"]


def _slower(competition: Competition, world: str) -> float:
    """The last round against the first, the median of those who finished in ten heats."""
    found = []
    for seed in range(10):
        final = state(competition, made(competition, world, seed, "women-2"), "women-2")
        for lane in final.lanes.values():
            last = len(final.plan.workout.rounds[0])
            ends = sorted(at_ms for mark, at_ms in lane.splits.items() if mark.station == last)
            if len(ends) == len(final.plan.workout.rounds):
                found.append((ends[-1] - ends[-2]) / ends[0])
    assert len(found) > 20
    return median(found)


def test_a_field_is_about_as_fast_as_the_organiser_expects() -> None:
    """Over twenty heats the mean time of those who finish is within a quarter of the expected one."""
    competition = work("saltmarsh")
    workout = competition.event_of(competition.heats["women-2"]).workout
    expected = sum(station.expected_ms for each in workout.rounds for station in each)
    times = [
        lane.finish_ms
        for seed in range(20)
        for lane in state(competition, made(competition, "clean", seed, "women-2"), "women-2").lanes.values()
        if lane.finish_ms is not None
    ]
    assert 0.75 <= mean(times) / expected <= 1.25


def unit_times(world: str, seed: int) -> list[float]:
    """How long each of 400 equal units takes somebody of a world, one after the other."""
    station = Station(movement="Row", amount=40, unit="calories", expected_ms=240_000)
    long = workout(rounds=((station,),) * 10, cap_ms=10 * 3_600_000)
    competition = one_event(long, lanes=1)
    ends = [
        at_ms
        for kind, at_ms, _ in true_work(seeded(competition, world, seed), competition.heats[HEAT], 1)
        if kind is RepCounted
    ]
    return [after - before for before, after in pairwise(ends)]


def test_a_world_goes_as_it_says() -> None:
    """In `kick` the last third is faster than the first and in `fade` slower; in `wander` the pace is remembered over
    ten units, in `steady` it is not; in `halts` long stops are many."""
    firsts, lasts, memories, halts = ({world: list[float]() for world in WORLDS} for _ in range(4))
    for world in ("kick", "fade", "wander", "steady", "halts"):
        for seed in range(20):
            times = unit_times(world, seed)
            usual = median(times)
            halts[world].append(max(times) > 3 * usual)
            plain = [min(each, 2 * usual) for each in times]
            firsts[world].append(mean(plain[: len(plain) // 3]))
            lasts[world].append(mean(plain[-len(plain) // 3 :]))
            memories[world].append(correlation(plain[:-10], plain[10:]))
    slower = {world: mean(lasts[world]) / mean(firsts[world]) for world in ("kick", "fade")}
    assert slower["kick"] < 0.97
    assert slower["fade"] > 1.02
    assert mean(memories["wander"]) > mean(memories["steady"]) + 0.05
    assert sum(halts["halts"]) > sum(halts["steady"])


class Even(Random):
    """Dice that always show the same."""

    def __init__(self, shows: float) -> None:
        super().__init__(1)
        self._shows = shows

    def random(self) -> float:
        """Show it."""
        return self._shows


def team_taps(form: TeamForm, at: Point, shows: float = 0.5) -> list[tuple[type[Fact], float, int]]:
    """What a pair taps for a unit: kind, time and member."""
    short = replace(workout(), team=Team(form=form, members=2), rounds=((Station(movement="Row", amount=12),),) * 2)
    bout = Bout(workout=short, athlete=Athlete(skill=1.0, fade=0.0), efforts={}, dice=Even(shows))
    moment = UnitDone(at_ms=10_000.0, at=at)
    return [
        (kind, at_ms, fields["member"]) for kind, at_ms, fields in of_team(bout, tap(short, moment), moment) if fields
    ]


def test_a_pair_taps_as_its_form_says() -> None:
    """In step the partner is up to 0.8 s later; sharing, the turn changes after six to fourteen units; in a relay the
    work passes 0.5 to 1.5 s after a round's last unit."""
    for shows, late_ms in ((0.0, 0), (0.5, 400)):
        taps = team_taps(TeamForm.SYNCHRO, Point(round=1, station=1, unit=1), shows)
        assert taps == [(RepCounted, 10_000, 1), (RepCounted, 10_000 + late_ms, 2)]
    turns = [team_taps(TeamForm.SHARED, Point(round=1, station=1, unit=unit))[0][2] for unit in range(1, 13)]
    assert turns == [1] * 6 + [2] * 6
    for shows, later_ms in ((0.0, 500), (0.5, 1_000)):
        [passed] = team_taps(TeamForm.RELAY, Point(round=1, station=1, unit=12), shows)
        assert passed == (Exchanged, 10_000 + later_ms, 2)


def test_chance_stays_within_its_bounds() -> None:
    """The lowest throw is the lower bound and the highest the upper one; the middle is half-way."""
    assert [made_up._between(Even(shows), (10.0, 30.0)) for shows in (0.0, 0.5, 1.0)] == [10, 20, 30]


def test_only_quick_repetitions_are_done_in_sets() -> None:
    """Ten of two seconds go in sets; ten of six seconds and a single one of two go one by one."""
    world = WORLDS["clean"]
    for amount, expected_ms, in_sets in ((10, 20_000, True), (10, 60_000, False), (1, 2_000, False)):
        found = made_up._effort(Station(movement="Row", amount=amount, expected_ms=expected_ms), world, 1.0, Even(0.5))
        assert (found.unbroken is not None) is in_sets


def test_somebody_who_stops_has_done_a_part_of_the_work() -> None:
    """At half a throw half of ten taps and one, then the withdrawal 10 to 40 s later."""
    work_done: list[Draft] = [(RepCounted, 1_000.0 * n, {}) for n in range(10)]
    world = replace(WORLDS["clean"], leaves=1.0)
    left = made_up._left(work_done, world, Even(0.5))
    assert left[:-1] == work_done[:6]
    assert left[-1][:2] == (Withdrawn, 5_000 + 25_000)
