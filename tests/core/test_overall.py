"""The standing from the facts: every scored part, ties, deductions, cuts and corrections, worked out by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import count

from hypothesis import given
from hypothesis import strategies as st

from core.called import call
from core.samples import rounds_of_22
from core.standing_samples import line
from tallywire.core.facts import (
    CountCorrected,
    DidNotStart,
    Disqualified,
    Fact,
    HeatEnded,
    HeatStarted,
    LaneFact,
    PointsDeducted,
)
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition, CutAfter, Division, Entry, Event, Heat, Measure, Part
from tallywire.core.model.workout import Workout
from tallywire.core.ranking.cuts import Cut, CutTies
from tallywire.core.ranking.formula import Formula
from tallywire.core.ranking.points import FormulaTable, StepTable, TiePolicy
from tallywire.core.ranking.standing import StandingRules
from tallywire.core.ranking.tie_rules import Order
from tallywire.core.standings.event_table import event_table
from tallywire.core.standings.overall import division_series, division_standing, field_before, still_in

CAP_MS = 600_000
_NUMBERS = count(1)


def trials(events: int = 2, entries: str = "abcd") -> Competition:
    """Events e1, e2 … for as many reps as possible, one heat each, entries on lanes 1, 2 …; ten points a place."""
    work = Workout(format="amrap", rounds=rounds_of_22(1), time_cap_ms=CAP_MS)
    names = [f"e{number}" for number in range(1, events + 1)]
    lanes = dict(enumerate(entries, start=1))
    return Competition(
        name="Test Trials",
        divisions={"open": Division(id="open", name="Open")},
        entries={each: Entry(id=each, name=each.upper(), short=each, division="open") for each in entries},
        points={"t": StepTable(first=100, step=10)},
        events={name: Event(id=name, name=name.title(), workout=work, points="t") for name in names},
        heats={name: Heat(id=name, name=name, event=name, lanes=lanes) for name in names},
    )


def stamp(heat: str, at_ms: int) -> dict[str, object]:
    """What every fact carries, with a number of its own."""
    number = next(_NUMBERS)
    return {"id": f"x.{number}", "heat": heat, "at_ms": at_ms, "sender": "table-x", "sequence": number}


def race(heat: str, reps: Iterable[int], *, end: bool = True) -> list[Fact]:
    """A heat in which lane 1, 2 … do so many reps: one haul each, then shuttle touches in a block are not needed."""
    facts: list[Fact] = [HeatStarted(**stamp(heat, 0), unix_ms=0)]  # type: ignore[arg-type]
    for lane, done in enumerate(reps, start=1):
        facts.append(on(CountCorrected, heat, lane, 1000, scored_reps=done, reason="sheet"))
    return facts + ([HeatEnded(**stamp(heat, CAP_MS))] if end else [])  # type: ignore[arg-type]


def on(kind: type[LaneFact], heat: str, lane: int, at_ms: int = CAP_MS + 1, **fields: object) -> Fact:
    """A fact about a lane."""
    return kind(**stamp(heat, at_ms), lane=lane, **fields)  # type: ignore[arg-type]


def standing_line(competition: Competition, facts: Iterable[Fact]) -> str:
    """The standing on one line."""
    return line(division_series(CompetitionBook(competition, facts).at_last_facts(), "open").rows)


def with_event(competition: Competition, name: str, **changes: object) -> Competition:
    """The competition with one event changed."""
    events: Mapping[str, Event] = {
        **competition.events,
        name: replace(competition.events[name], **changes),  # type: ignore[arg-type]
    }
    return replace(competition, events=events)


def test_points_of_all_events_add_up() -> None:
    """Places 1 2 2 4 and then 4 3 2 1: c has 90 + 90, a 100 + 70, b 90 + 80, d 70 + 100; three share 170 by rules."""
    facts = race("e1", [9, 8, 8, 7]) + race("e2", [1, 2, 3, 4])
    assert standing_line(trials(), facts) == "1 c 180, 2 d 170, 3 a 170, 4 b 170"


def test_the_mean_of_the_places_taken_up() -> None:
    """With the mean, second and third place share 90 and 80: 85 each, in the event and in the standing."""
    mean = with_event(trials(1), "e1", ties=TiePolicy.MEAN)
    book = CompetitionBook(mean, race("e1", [9, 8, 8, 7]))
    rows = event_table(book.at_last_facts(), mean.events["e1"], mean.events["e1"].scored_parts()[0], "open")
    assert [int(row.points) for row in rows] == [100, 85, 85, 70]
    assert line(division_series(book.at_last_facts(), "open").rows) == "1 a 100, 2 b 85, 2 c 85, 4 d 70"


def test_too_little_work_earns_nothing_but_keeps_its_place() -> None:
    """With a least of five reps, three reps are third of those with a result, for no points; DNS is fourth."""
    least = with_event(trials(1), "e1", workout=replace(trials(1).events["e1"].workout, minimum_reps=5))
    facts = [*race("e1", [9, 8, 3, 0]), on(DidNotStart, "e1", 4)]
    rows = division_series(CompetitionBook(least, facts).at_last_facts(), "open").rows
    assert [(row.entry, int(row.total), row.cells[0].place, row.cells[0].has_result) for row in rows] == [
        ("a", 100, 1, True),
        ("b", 90, 2, True),
        ("c", 0, 3, True),
        ("d", 0, 4, False),
    ]


def test_parts_are_scores_of_their_own() -> None:
    """Two scores from one performance: a leads early, b at the end; each has its places and points."""
    parts = (
        Part(id="early", name="Early", measure=Measure.REPS_AT, points="t", at_ms=2000),
        Part(id="whole", name="Whole", measure=Measure.RESULT, points="t"),
    )
    competition = with_event(trials(1, "ab"), "e1", parts=parts)
    facts = [*race("e1", [8, 7]), on(CountCorrected, "e1", 2, 5000, scored_reps=9, reason="sheet")]
    series = division_series(CompetitionBook(competition, facts).at_last_facts(), "open")
    assert [(each.event, each.scores["a"].place) for each in series.scores] == [("e1/early", 1), ("e1/whole", 2)]
    assert line(series.rows) == "1 b 190, 2 a 190"
    assert {row.decided_by.value for row in series.rows if row.decided_by} == {"last_event"}


def test_a_deduction_goes_off_the_standing_alone() -> None:
    """Fifteen points off: a falls behind b in the standing, and its place in the event stays."""
    facts = [*race("e1", [9, 8, 7, 6]), on(PointsDeducted, "e1", 1, points=15, reason="late")]
    rows = division_series(CompetitionBook(trials(1), facts).at_last_facts(), "open").rows
    assert line(rows) == "1 b 90, 2 a 85, 3 c 80, 4 d 70"
    assert [(int(each.points), each.reason, each.event) for each in rows[1].deductions] == [(15, "late", "e1")]
    assert rows[1].cells[0].place == 1


def test_a_correction_in_an_early_event_reaches_the_later_standing() -> None:
    """Event one is corrected after event two: the cut is made anew, and those in event two count among survivors."""
    competition = replace(trials(), cuts=(CutAfter(event="e1", cut=Cut(size=2)),))
    facts = race("e1", [9, 8, 7, 6]) + race("e2", [1, 2, 3, 4])
    assert standing_line(competition, facts) == "1 b 190, 2 a 190, 3 c 80, 4 d 70"
    facts.append(on(CountCorrected, "e1", 3, scored_reps=20, reason="appeal"))
    assert standing_line(competition, facts) == "1 c 200, 2 a 180, 3 b 80, 4 d 70"


def table_line(competition: Competition, facts: Iterable[Fact], event: str) -> str:
    """The table of an event on one line: place, entry and points."""
    found = competition.events[event]
    rows = event_table(CompetitionBook(competition, facts).at_last_facts(), found, found.scored_parts()[0], "open")
    return ", ".join(f"{row.place} {row.entry.id} {row.points}" for row in rows)


def test_after_a_cut_the_event_is_the_survivors() -> None:
    """A table scaled to the field is for the two who survived, though four raced; the others are not in the event."""
    scaled = FormulaTable(Formula("100 * (field - place + 1) / field"))
    base = replace(trials(), cuts=(CutAfter(event="e1", cut=Cut(size=2)),))
    competition = replace(base, points={"t": base.points["t"], "s": scaled})
    competition = with_event(competition, "e2", points="s")
    facts = race("e1", [9, 8, 7, 6]) + race("e2", [1, 2, 9, 9])
    assert table_line(competition, facts, "e2") == "1 b 100, 2 a 50"
    assert standing_line(competition, facts) == "1 b 190, 2 a 150, 3 c 80, 4 d 70"


def test_a_survivor_without_a_lane_counts_in_the_field() -> None:
    """Three survive and one of them is on no lane: an entry without a result still has one point more than the field,
    four.
    """
    low = StandingRules(order=Order.FEWEST)
    base = replace(trials(), standing_rules=low, points={"t": FormulaTable(Formula("place"))})
    lanes = {1: "a", 2: "b"}
    heats = {**base.heats, "e2": replace(base.heats["e2"], lanes=lanes)}
    competition = replace(base, heats=heats, cuts=(CutAfter(event="e1", cut=Cut(size=3)),))
    facts = [*race("e1", [9, 8, 7, 6]), *race("e2", [1, 2]), on(Disqualified, "e2", 1, reason="conduct")]
    assert table_line(competition, facts, "e2") == "1 b 1, 2 a 4"


def test_a_correction_before_the_cut_changes_the_event_after_it() -> None:
    """The survivors are worked out again when an earlier event changes, and only then."""
    competition = replace(trials(), cuts=(CutAfter(event="e1", cut=Cut(size=2)),))
    book = CompetitionBook(competition, race("e1", [9, 8, 7, 6]) + race("e2", [1, 2, 3, 4]))
    assert field_before(book.at_last_facts(), "e2", "open") == frozenset("ab")
    book.add(on(CountCorrected, "e2", 3, scored_reps=20, reason="sheet"))
    assert field_before(book.at_last_facts(), "e2", "open") == frozenset("ab")
    book.add(on(CountCorrected, "e1", 3, scored_reps=20, reason="appeal"))
    assert field_before(book.at_last_facts(), "e2", "open") == frozenset("ac")


def test_before_the_cut_is_made_everybody_on_the_start_list_counts() -> None:
    """While event one still races nobody is cut, and event two, begun early, is for those on its start list."""
    competition = replace(trials(), cuts=(CutAfter(event="e1", cut=Cut(size=2)),))
    facts = race("e1", [9, 8, 7, 6], end=False) + race("e2", [1, 2, 3, 4])
    assert field_before(CompetitionBook(competition, facts).at_last_facts(), "e2", "open") == frozenset("abcd")
    assert table_line(competition, facts, "e2") == "1 d 100, 2 c 90, 3 b 80, 4 a 70"


def pending() -> Competition:
    """Five entries; four are left after event one, two after event two, of whose two heats the second may not start."""
    base = trials(3, "abcde")
    heats = {
        **base.heats,
        "e2": replace(base.heats["e2"], lanes={1: "a", 2: "b", 3: "e"}),
        "e2-late": replace(base.heats["e2"], id="e2-late", lanes={1: "c", 2: "d"}),
        "e3": replace(base.heats["e3"], lanes={1: "a", 2: "b", 3: "e", 4: "c"}),
    }
    cuts = tuple(CutAfter(event=event, cut=Cut(size=size)) for event, size in (("e1", 4), ("e2", 2)))
    points = {**base.points, "s": FormulaTable(Formula("100 * (field - place) / field"))}
    return with_event(replace(base, heats=heats, cuts=cuts, points=points), "e3", points="s")


def test_results_and_standing_pay_the_same_field_while_a_cut_is_pending() -> None:
    """By hand: e is out after event one; three others are on the lanes of event three while the second cut waits.

    So 100 * (3 - place) / 3: two thirds, one third, nothing. Once two are left it is 50 and nothing, and c is a guest.
    """
    competition = pending()
    facts = [*race("e1", [9, 8, 7, 6, 5]), *race("e2", [9, 8, 7]), *race("e3", [7, 8, 9, 6])]
    assert table_line(competition, facts, "e3") == "1 b 200/3, 2 a 100/3, 3 c 0"
    scores = division_series(CompetitionBook(competition, facts).at_last_facts(), "open").scores[-1].scores
    paid = [(entry, each.place, str(each.points)) for entry, each in scores.items()]
    assert sorted(paid) == [("a", 2, "100/3"), ("b", 1, "200/3"), ("c", 3, "0")]
    swings = call(competition, facts, "e3", 400_000)["overall"]["open"]["rows"]
    assert {row["entry"]: row["gained"] for row in swings} == {"b": 66.67, "a": 33.33, "c": 0, "d": 0}
    made = [*facts, *race("e2-late", [1, 2])]
    assert table_line(competition, made, "e3") == "1 b 50, 2 a 0"


@given(st.lists(st.lists(st.integers(0, 30), min_size=4, max_size=4), min_size=3, max_size=3), st.integers(1, 4))
def test_the_events_table_and_the_standing_agree(reps: list[list[int]], size: int) -> None:
    """Whatever was done and wherever the cut falls, an event's table hands out what the standing adds up."""
    competition = replace(trials(3), cuts=(CutAfter(event="e1", cut=Cut(size=size, ties=CutTies.KEEP_ALL)),))
    book = CompetitionBook(competition, [fact for n, done in enumerate(reps, 1) for fact in race(f"e{n}", done)])
    for scores in division_series(book.at_last_facts(), "open").scores:
        event = competition.events[scores.event]
        rows = event_table(book.at_last_facts(), event, event.scored_parts()[0], "open")
        shown = {row.entry.id: (row.place, row.points) for row in rows}
        assert shown == {entry: (each.place, each.points) for entry, each in scores.scores.items()}


def test_who_left_takes_nobodys_place_in_a_cut() -> None:
    """The leader left after event one: the next one moves up into the cut and the seed, and the leader keeps points."""
    competition = replace(trials(), cuts=(CutAfter(event="e1", cut=Cut(size=2)),))
    gone = {**competition.entries, "a": replace(competition.entries["a"], left_after="e1")}
    book = CompetitionBook(replace(competition, entries=gone), race("e1", [9, 8, 7, 6]))
    assert still_in(book.at_last_facts(), "open", before="e2") == ["b", "c"]
    assert line(division_series(book.at_last_facts(), "open").rows) == "1 b 90, 2 c 80, 3 a 100, 4 d 70"


def test_a_disqualification_may_have_to_count() -> None:
    """One event dropped: a's disqualification goes and the last event parts a from b, unless it always counts."""
    rules = StandingRules(drop_worst=1, drop_from=2)
    facts = [*race("e1", [9, 8, 7, 6]), on(Disqualified, "e1", 1, reason="conduct"), *race("e2", [9, 8, 7, 6])]
    free = replace(trials(), standing_rules=rules)
    assert standing_line(free, facts).startswith("1 a 100, 2 b 100, ")
    assert standing_line(replace(free, drop_disqualified=False), facts).endswith("4 a 0")


def test_the_standing_is_final_when_nothing_is_open() -> None:
    """It runs while a heat races or has not started, and is final after the last."""
    first, second = race("e1", [9, 8, 7, 6]), race("e2", [1, 2, 3, 4], end=False)
    assert not division_standing(CompetitionBook(trials(), first).at_last_facts(), "open").final
    assert not division_standing(CompetitionBook(trials(), [*first, *second]).at_last_facts(), "open").final
    found = division_standing(CompetitionBook(trials(), [*first, *race("e2", [1, 2, 3, 4])]).at_last_facts(), "open")
    assert (found.final, list(found.parts)) == (True, ["e1", "e2"])
