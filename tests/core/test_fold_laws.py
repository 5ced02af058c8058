"""Laws of the fold, over random heats."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from core.folding import fold
from core.samples import CAP_MS, HEAT, Pad, Script, competition, deliveries, scripts
from tallywire.core.facts import Fact
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.heat_book import HeatBook

COMPETITION = competition()


def state(facts: list[Fact], clock_ms: int = CAP_MS) -> HeatState:
    """Fold and drop nothing: the whole state is compared."""
    return fold(COMPETITION, HEAT, facts, clock_ms)


def same(one: HeatState, other: HeatState) -> bool:
    """Compare all fields but the plan, which has no equality of its own and is the same by construction."""
    return replace(one, plan=other.plan) == other


@given(st.data(), scripts())
def test_delivery_order_does_not_matter(data: st.DataObject, script: Script) -> None:
    """Any delivery order that keeps each sender's own order gives the same final state."""
    first = data.draw(deliveries(script))
    second = data.draw(deliveries(script))
    assert same(state(first), state(second))


@given(st.data(), scripts())
def test_duplicates_change_nothing(data: st.DataObject, script: Script) -> None:
    """A fact delivered again, anywhere, changes nothing."""
    facts = data.draw(deliveries(script))
    again = data.draw(st.lists(st.sampled_from(facts), max_size=5))
    spread = [*facts]
    for fact in again:
        spread.insert(data.draw(st.integers(0, len(spread))), fact)
    assert same(state(spread), state(facts))


@given(st.data(), scripts())
def test_filling_a_book_at_once_is_the_same(data: st.DataObject, script: Script) -> None:
    """All facts at once, in any order and some of them twice, give the state of the facts one by one."""
    facts = data.draw(deliveries(script))
    facts += data.draw(st.lists(st.sampled_from(facts), max_size=2))
    filled = HeatBook(COMPETITION, COMPETITION.heats[HEAT])
    filled.fill(data.draw(st.permutations(facts)))
    assert same(filled.at(CAP_MS).state, state(facts))


@given(st.data(), scripts())
def test_a_voided_fact_never_came(data: st.DataObject, script: Script) -> None:
    """Voiding a fact gives exactly the state of the facts without it."""
    facts = data.draw(deliveries(script))
    fact = data.draw(st.sampled_from(facts))
    judge = Pad("zz-table")
    void = judge.void(data.draw(st.integers(fact.at_ms, 2 * CAP_MS)), fact)
    without = [each for each in facts if each.id != fact.id]
    assert same(state([*facts, void]), state(without))


@given(st.data(), scripts())
def test_a_voided_void_never_came(data: st.DataObject, script: Script) -> None:
    """Voiding a void brings back exactly what it struck."""
    facts = data.draw(deliveries(script))
    judge = Pad("zz-table")
    void = judge.void(2 * CAP_MS, data.draw(st.sampled_from(facts)))
    undo = judge.void(2 * CAP_MS, void)
    assert same(state([undo, *facts, void]), state(facts))


@given(st.data(), scripts())
def test_voiding_everything_gives_the_start(data: st.DataObject, script: Script) -> None:
    """With every fact voided the heat stands as before the first one."""
    facts = data.draw(deliveries(script))
    judge = Pad("zz-table")
    voids = [judge.void(2 * CAP_MS, fact) for fact in facts if not fact.id.startswith("zz")]
    plain = [fact for fact in facts if type(fact).__name__ != "FactVoided"]
    kept = [void for void, fact in zip(voids, facts, strict=True) if fact in plain]
    assert same(state([*plain, *kept], 0), state([], 0))


@given(st.data(), scripts())
def test_step_by_step_equals_all_at_once(data: st.DataObject, script: Script) -> None:
    """A book that is looked at now and then, lanes counted on from where they stood, ends where a single go ends."""
    facts = data.draw(deliveries(script))
    looks = data.draw(st.lists(st.booleans(), min_size=len(facts), max_size=len(facts)))
    book = HeatBook(COMPETITION, COMPETITION.heats[HEAT])
    for fact, looked in zip(facts, looks, strict=True):
        book.add(fact)
        if looked:
            book.at(fact.at_ms).state.order  # noqa: B018
    assert same(book.at(CAP_MS).state, state(facts))


@given(st.data(), scripts())
def test_numbers_stay_in_bounds(data: st.DataObject, script: Script) -> None:
    """Scored reps and reps to go add up to the work, gaps are never negative, and the leader trails nobody."""
    found = state(data.draw(deliveries(script)))
    for lane in found.lanes.values():
        assert lane.reps_to_go is not None
        assert lane.scored_reps + lane.reps_to_go == 110
        assert 0 <= lane.gap_next <= lane.gap_leader
        assert list(lane.splits.values()) == sorted(lane.splits.values())
        assert [done for _, done in lane.tally.trail] == sorted({done for _, done in lane.tally.trail})
    if found.leader is not None:
        assert found.lanes[found.leader].gap_leader == 0


@given(st.data(), scripts(), st.permutations([1, 2, 3]))
def test_permuting_lanes_permutes_places(data: st.DataObject, script: Script, lanes: list[int]) -> None:
    """It does not matter to the places which entry stands on which lane."""
    facts = data.draw(deliveries(script))
    to = dict(zip((1, 2, 3), lanes, strict=True))
    moved = [replace(fact, lane=to[fact.lane]) if getattr(fact, "lane", None) else fact for fact in facts]  # type: ignore[attr-defined, call-arg]
    before, after = state(facts), state(moved)
    assert {to[lane]: each.place for lane, each in before.lanes.items()} == {
        lane: each.place for lane, each in after.lanes.items()
    }


@given(st.data(), scripts(), st.integers(1, 3))
def test_more_work_never_places_worse(data: st.DataObject, script: Script, lane: int) -> None:
    """One more rep counted before the end never worsens the place of a lane that goes on working."""
    facts = data.draw(deliveries(script))
    before = state(facts).lanes[lane]
    if before.status.value not in {"capped", "working"}:
        return
    last_ms = max((fact.at_ms for fact in facts if getattr(fact, "lane", None) == lane), default=0)
    more = Pad(f"lane-{lane}-b", lane).reps(last_ms, 1)
    assert state([*facts, more]).lanes[lane].place <= before.place
