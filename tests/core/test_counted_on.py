"""Lanes that are counted on from where they stood, and leads gone on from those before, against a single go.

Over the recorded heat of every format, and over random ones.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.samples import CAP_MS, HEAT, Script, deliveries, scripts
from core.samples import competition as three_lanes
from tallywire.core.facts import CountCorrected, Fact, FactVoided, RepCounted
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.heat_book import HeatBook
from tallywire.core.gaps.lead_changes import lead_changes
from tallywire.core.model.competition import Competition
from tallywire.shell.files import load_competition, load_recording

FOLDER = Path(__file__).parents[2] / "scenarios"
COMPETITIONS = [load_competition(FOLDER / name) for name in ("estuary.toml", "saltmarsh.toml")]
RECORDINGS = sorted(FOLDER.glob("*.ndjson"))
ODD = 97
"""Between two comparisons; prime, so that they fall on every lane."""


def heats_of(recording: Path) -> tuple[Competition, dict[str, list[Fact]]]:
    """Give the competition of a recording, and the facts of each heat in order."""
    facts = load_recording(recording)
    [competition] = [each for each in COMPETITIONS if all(fact.heat in (*each.heats, "") for fact in facts)]
    by_heat: dict[str, list[Fact]] = {}
    for fact in facts:
        if fact.heat:
            by_heat.setdefault(fact.heat, []).append(fact)
    return competition, by_heat


def put_right(facts: list[Fact]) -> list[Fact]:
    """Let the table take back a tap here and set a count down there, where a recording has none of it."""
    found: list[Fact] = []
    for number, fact in enumerate(facts, start=1):
        found.append(fact)
        if isinstance(fact, RepCounted) and number % ODD == 0:
            own: dict[str, Any] = {"heat": fact.heat, "at_ms": fact.at_ms, "sender": "table-odd"}
            wrong: dict[str, Any] = {"lane": fact.lane, "scored_reps": number % 7, "reason": "counted again"}
            right = CountCorrected(**own, **wrong, id=f"table-odd.{number}", sequence=number)
            void = FactVoided(**own, id=f"table-odd.{number}v", sequence=number, lane=fact.lane, voids=fact.id)
            found.append(right if number % 2 else void)
    return found


def state(book: HeatBook, fact: Fact) -> HeatState:
    """Look at every lane, which is what later facts are counted on from."""
    found = book.at(fact.at_ms).state
    assert found.order
    return found


@pytest.mark.parametrize("recording", RECORDINGS, ids=lambda path: path.stem)
def test_counting_on_gives_what_counting_anew_does(recording: Path) -> None:
    """Looked at after every fact, corrected and voided now and then, a heat is what its facts so far fold into."""
    competition, by_heat = heats_of(recording)
    for heat, recorded in by_heat.items():
        facts = put_right(recorded)
        book = HeatBook(competition, competition.heats[heat])
        for number, fact in enumerate(facts, start=1):
            book.add(fact)
            found = state(book, fact)
            leads = lead_changes(found)
            if number % ODD in (0, 1, 2) or number == len(facts):
                anew = HeatBook(competition, competition.heats[heat])
                anew.fill(facts[:number])
                expected = state(anew, fact)
                assert found.lanes == expected.lanes
                assert leads == lead_changes(expected)


@given(st.data(), scripts())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_leads_gone_on_are_those_of_a_single_go(
    monkeypatch: pytest.MonkeyPatch, data: st.DataObject, script: Script
) -> None:
    """Whatever order facts come in, however soon what was found is taken as settled: asked now and then or once."""
    facts = data.draw(deliveries(script))
    monkeypatch.setattr("tallywire.core.gaps.lead_changes.STILL_MS", data.draw(st.sampled_from([0, 500, 5_000])))
    competition = three_lanes()
    book = HeatBook(competition, competition.heats[HEAT])
    for number, fact in enumerate(facts, start=1):
        book.add(fact)
        found = lead_changes(book.at(CAP_MS).state)
        anew = HeatBook(competition, competition.heats[HEAT])
        anew.fill(facts[:number])
        assert found == lead_changes(anew.at(CAP_MS).state)


def test_times_that_were_passed_are_kept_as_they_are() -> None:
    """A tap inside a station leaves the lane's times the same object: nothing is worked out again for it."""
    competition, by_heat = heats_of(FOLDER / "saltmarsh-women-2.ndjson")
    [(heat, facts)] = by_heat.items()
    book = HeatBook(competition, competition.heats[heat])
    kept = counted = 0
    for fact in facts[: len(facts) // 2]:
        before = {} if not isinstance(fact, RepCounted) else state(book, fact).lanes
        book.add(fact)
        if isinstance(fact, RepCounted):
            was, now = before[fact.lane], state(book, fact).lanes[fact.lane]
            counted += 1
            kept += now.splits is was.splits
            assert (now.splits is was.splits) == (now.splits == was.splits)
    assert kept > counted * 0.8
