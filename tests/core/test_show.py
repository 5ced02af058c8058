"""The show's book: what is on programme follows from the set of facts, whatever order they come in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from core.folding import fold
from core.samples import HEAT, Pad, competition
from tallywire.core.facts import AutomaticSet, DelaySet, RundownEdited, ShowFact, ViewCleared, ViewTaken
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.show import Automatic, OutputState, ShowBook
from tallywire.core.model.outputs import Item, Output, line_of, rundown_digest
from tallywire.core.views.heat import heat_frame

OUTPUTS = {name: Output(id=name, name=name.title(), delay_ms=500) for name in ("world", "hall")}


def fact(kind: type[ShowFact], sequence: int, **fields: Any) -> Any:
    """A fact of the desk, a second after the one before; on the world feed unless told otherwise."""
    common = {"id": f"desk-a.{sequence}", "heat": HEAT, "at_ms": 0, "sender": "desk-a", "sequence": sequence}
    return kind(**{**common, "output": "world", "unix_ms": 1000 * sequence, **fields})


def taken(sequence: int, view: str = "heat", **fields: Any) -> ViewTaken:
    """A view was taken."""
    made: ViewTaken = fact(ViewTaken, sequence, view=view, params={}, **fields)
    return made


def world(*facts: ShowFact) -> OutputState:
    """The world feed after these facts."""
    return ShowBook(OUTPUTS, facts).outputs()["world"]


def test_before_any_fact_every_output_is_clear() -> None:
    """Nothing is on, the delay is the file's, and nothing is automatic."""
    for name, state in ShowBook(OUTPUTS).outputs().items():
        assert state == OutputState(output=OUTPUTS[name], delay_ms=500)


def test_the_newest_take_is_on_programme() -> None:
    """A take replaces the one before it and says since when."""
    newest = taken(2, "track")
    state = world(taken(1), newest)
    assert (state.programme, state.changed) == (newest, newest)


def test_a_clear_clears() -> None:
    """After a clear nothing is on programme; what changed last is the clear."""
    clear = fact(ViewCleared, 2)
    state = world(taken(1), clear)
    assert (state.programme, state.changed) == (None, clear)


def test_outputs_are_apart() -> None:
    """What is taken on one output leaves the others as they are; facts of an unknown output are passed over."""
    states = ShowBook(OUTPUTS, [taken(1, output="hall"), taken(2, output="moon")]).outputs()
    assert states["hall"].programme is not None
    assert states["world"].programme is None
    assert list(states) == ["world", "hall"]


def test_delay_and_automatic_are_kept_apart_from_the_picture() -> None:
    """The delay and the automatic mode change by themselves; the mode names the desk that works it until it is off."""
    state = world(taken(1), fact(DelaySet, 2, delay_ms=2400), fact(AutomaticSet, 3, automatic="take"))
    assert (state.delay_ms, state.automatic, state.automatic_by) == (2400, Automatic.TAKE, "desk-a")
    assert state.programme == taken(1)
    off = world(fact(AutomaticSet, 1, automatic="take"), fact(AutomaticSet, 2, automatic="off"))
    assert (off.automatic, off.automatic_by) == (Automatic.OFF, None)


def test_wall_time_orders_a_show_over_many_heats() -> None:
    """A take in the second heat, whose clock is at 0 again, comes after one late in the first."""
    late = taken(1, unix_ms=1000, at_ms=800_000)
    later = taken(2, "track", unix_ms=2000, at_ms=0)
    assert world(later, late).programme == later


def test_one_id_is_one_fact() -> None:
    """Of two facts with one id the first in the order counts, whichever comes first."""
    one, other = taken(1, "track"), taken(2, "heat", id="desk-a.1")
    assert world(one, other).programme == world(other, one).programme == one


SHOW = st.lists(
    st.one_of(
        st.builds(
            taken, st.integers(1, 30), st.sampled_from(["heat", "track"]), output=st.sampled_from(["world", "hall"])
        ),
        st.builds(lambda n: fact(ViewCleared, n), st.integers(1, 30)),
        st.builds(lambda n, ms: fact(DelaySet, n, delay_ms=ms), st.integers(1, 30), st.integers(0, 30_000)),
    ),
    unique_by=lambda each: each.id,
    max_size=12,
)


@given(SHOW, st.randoms())
def test_delivery_order_does_not_matter(facts: list[ShowFact], chance: Any) -> None:
    """The facts in any order, each as often as it likes, lead to the same outputs."""
    mixed = facts + facts[:3]
    chance.shuffle(mixed)
    assert ShowBook(OUTPUTS, mixed).outputs() == ShowBook(OUTPUTS, facts).outputs()


def test_the_show_does_not_touch_the_count() -> None:
    """A heat folds to the same state with and without facts of the show, in the book and in a recording."""
    starter, pad = Pad("table-a"), Pad("lane-1-a", 1)
    counted = [starter.start(), pad.reps(1000), pad.reps(2000)]
    show = [taken(1, at_ms=50_000), fact(ViewCleared, 2, at_ms=60_000)]
    known = competition()
    with_show, without = (fold(known, HEAT, facts) for facts in ([*counted, *show], counted))
    assert heat_frame(known, with_show) == heat_frame(known, without)
    book = CompetitionBook(competition(), [*counted, *show])
    assert book.heats[HEAT].last_ms() == 2000
    assert book.show.outputs()["world"].changed == show[1]


RUNDOWN = (Item(view="heat"), Item(view="track", name="The line"), Item(view="athlete", params={"who": "lane:4"}))
PLANNED = {"world": replace(OUTPUTS["world"], rundown=RUNDOWN)}


def change(n: int, before: Sequence[Item], line: int, gone: int, *added: Item, sender: str = "desk-a") -> RundownEdited:
    """The n-th change of a rundown; wall clocks of desks differ, so the later one may say the earlier time."""
    return RundownEdited(
        id=f"{sender}.r{n}",
        heat=HEAT,
        at_ms=0,
        sender=sender,
        sequence=n,
        output="world",
        unix_ms=1_000_000 - n,
        edit=n,
        before=rundown_digest(before),
        line=line,
        gone=gone,
        added=[line_of(each) for each in added],
    )


def rundown_of(*facts: ShowFact, file: Sequence[Item] = RUNDOWN) -> tuple[Item, ...]:
    """The rundown after these facts, with a file that plans `file`."""
    outputs = {"world": replace(OUTPUTS["world"], rundown=tuple(file))}
    return ShowBook(outputs, facts).outputs()["world"].output.rundown


def history(moves: Sequence[tuple[int, int, int]]) -> tuple[list[RundownEdited], list[tuple[Item, ...]]]:
    """Changes one after the other, each a line, how many go and which view comes, and the rundown after each."""
    states: list[tuple[Item, ...]] = [RUNDOWN]
    facts: list[RundownEdited] = []
    for n, (at, gone, view) in enumerate(moves, start=1):
        now = states[-1]
        line, new = at % (len(now) + 1), Item(view=("heat", "track", "clock")[view])
        facts.append(change(n, now, line + 1, min(gone, len(now) - line), new, sender=f"desk-{'ab'[n % 2]}"))
        states.append((*now[:line], new, *now[line + min(gone, len(now) - line) :]))
    return facts, states


MOVES = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 2), st.integers(0, 2)), max_size=8)


@given(moves=MOVES, order=st.randoms())
def test_a_rundown_is_the_same_in_whichever_order_its_changes_come(
    moves: list[tuple[int, int, int]], order: Random
) -> None:
    """Shuffled and sent twice they lead where they led one after the other, whatever the clocks of the desks say."""
    facts, states = history(moves)
    mixed = [*facts, *facts[:2]]
    order.shuffle(mixed)
    assert rundown_of(*mixed) == states[-1]


@given(moves=MOVES, saved=st.integers(0, 8))
def test_a_file_that_was_saved_on_the_way_leads_to_the_same_rundown(
    moves: list[tuple[int, int, int]], saved: int
) -> None:
    """Started again with the rundown as it was saved at any moment, the changes still end where they ended."""
    facts, states = history(moves)
    assert rundown_of(*facts, file=states[min(saved, len(moves))]) == states[-1]


def test_of_two_desks_at_once_the_first_one_changes_the_rundown() -> None:
    """The second change was of another rundown by then: it changes nothing. A file written by hand counts by itself."""
    new = Item(view="clock")
    first, second = change(1, RUNDOWN, 1, 1, sender="desk-b"), change(1, RUNDOWN, 1, 0, new, sender="desk-c")
    assert rundown_of(second, first) == rundown_of(first, second) == RUNDOWN[1:]
    assert rundown_of(first, file=[new]) == (new,)
    assert ShowBook(PLANNED, [first, second]).outputs()["world"].edits == 1


def test_what_is_on_the_air_stays_when_the_rundown_changes() -> None:
    """A change of the rundown moves no picture."""
    state = world(taken(1), change(1, (), 1, 0, Item(view="clock")))
    assert state.programme == state.changed == taken(1)
    assert [each.view for each in state.output.rundown] == ["clock"]
