"""The moments of a heat, every kind in every language: what a rehearsal can go to, and the chapters of its footage."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from core.folding import fold
from core.samples import HEAT, Pad, competition, full_round, workout
from tallywire.core.facts import Fact
from tallywire.core.rehearsal.moments import plain_moments, told
from tallywire.core.reports.moments import Moment, heat_moments
from tallywire.wire.catalogue import LANGUAGES, catalogue
from tallywire.wire.steering import KINDS

SHORT = competition(workout(rounds=workout().rounds[:1]), lanes=2)
ENGLISH = {
    "start": "Event, Heat 1: start",
    "leads": "Entry 1 leads with 1 rep",
    "takes_lead": "Entry 2 takes the lead with 2 reps",
    "no_rep": "No-rep: Entry 1",
    "finish": "Entry 2 finishes: 0:15.244",
    "end": "End of the heat",
}
"""By key, as docs/results.md and the page Rehearsal show them."""


def facts() -> Iterator[Fact]:
    """A heat of one round in which everything happens that is a moment."""
    one, two, table = Pad("lane-1-a", 1), Pad("lane-2-a", 2), Pad("table-a")
    yield from (table.start(), one.reps(1_000), one.no_rep(1_500))
    yield from full_round(two, 2_000, step_ms=602)
    yield table.end(20_000)


@pytest.fixture(name="moments", scope="module")
def _moments() -> dict[str, Moment]:
    found = heat_moments(fold(SHORT, HEAT, list(facts()), 30_000))
    return {each.key: each for each in found}


def test_a_heat_has_moments_of_each_key(moments: dict[str, Moment]) -> None:
    """The heat of these tests leaves none out, and each key has its text: none is there for nothing."""
    assert set(moments) == set(ENGLISH)
    assert {key for key in catalogue("en").texts if key.startswith("moment.")} == {f"moment.{key}" for key in ENGLISH}


@pytest.mark.parametrize("key", ENGLISH)
@pytest.mark.parametrize("language", LANGUAGES)
def test_each_moment_is_said_in_each_language(moments: dict[str, Moment], language: str, key: str) -> None:
    """Names stay as they are written; else no English word is left, and a time has the language's mark."""
    words = catalogue(language)
    line = moments[key].said(words.tell)
    assert all(str(each) in line for name, each in moments[key].values.items() if name not in ("time", "reps"))
    if language == "en":
        assert line == ENGLISH[key]
        return
    # Spanish shortens repetitions as English does.
    shared = re.compile(r"Entry|Event|Heat|reps?")
    english, own = (set(re.findall(r"[a-z]{3,}", shared.sub("", text).lower())) for text in (ENGLISH[key], line))
    assert line != ENGLISH[key] and not english & own, line
    assert ("0:15.244".replace(".", words.decimal) in line) == (key == "finish")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_rehearsal_goes_to_them_in_each_language(language: str) -> None:
    """Each kind that one can ask for has a line; a cue has its own wording, and the end of a heat is none of them."""
    found = told(plain_moments(SHORT, list(facts())), catalogue(language).tell)
    assert {each.kind for each in found} == set(KINDS) - {"cue"}
    lines = {each.line for each in found}
    assert language == "en" or not lines & set(ENGLISH.values())
