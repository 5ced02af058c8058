"""The cues in every language: every line of every format is there, can be said, and takes the forms of its numbers."""

from __future__ import annotations

import pytest

from tallywire.core.cues import Cue, Kind, say
from tallywire.core.cues.cue import Value
from tallywire.core.cues.format_words import vocabulary
from tallywire.wire.catalogue import LANGUAGES
from tallywire.wire.cue_wording import default_wording, read_wording, wording_text

SAMPLES: dict[str, Value] = {"name": "Vale", "word": "Sled", "time": 2_400, "pieces": "lowest", "load": 96_500}


def said(language: str, template: str, **values: Value) -> str:
    """A cue of this template in a language."""
    cue = Cue(kind=Kind.LEAD, template=template, key="k", lanes=(1,), values=values, weight=50, at_ms=0, ttl_ms=1_000)
    return say(cue, default_wording(language))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_line_can_be_said(language: str) -> None:
    """Each line has its name in it and no placeholder is left over, for the counts 0, 1, 2, 3, 11 and 100."""
    for template, fields in vocabulary().lines.items():
        for count in (0, 1, 2, 3, 11, 100):
            values: dict[str, Value] = {key: SAMPLES.get(what, count) for key, what in fields.items()} | {"unit": "kg"}
            line = said(language, template, **values)
            assert "Vale" in line
            assert "{" not in line


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_printed_is_read_again(language: str) -> None:
    """`tallywire wording --language` prints a file that is read as the same words."""
    again, shipped = read_wording("mine.toml", wording_text(language)), default_wording(language)
    assert (again.lines, again.units, again.ordinal) == (shipped.lines, shipped.units, shipped.ordinal)


@pytest.mark.parametrize(
    ("language", "expected"),
    [
        ("en", "Vale is 21st in the heat in 5:32.4."),
        ("es", "Vale es 21.º de la serie en 5:32,4."),
        ("fr", "Vale est 21e de la série en 5:32,4."),
        ("ar", "Vale في المركز 21 في المجموعة، 5:32.4."),
        ("ja", "Valeはヒート21位、5:32.4。"),
    ],
)
def test_places_and_decimal_marks_follow_the_language(language: str, expected: str) -> None:
    """Sources: CLDR for the categories of ordinals and the decimal marks; the words are ours."""
    assert said(language, "finish_plain", name="Vale", place=21, time_ms=332_400) == expected


def test_a_part_of_a_second_is_singular_in_french() -> None:
    """CLDR: in French 1.4 is of the category one, in English and Spanish it is not."""
    lines = [
        said(each, "no_reps", name="Vale", count=3, within_ms=1_400, movement="Sled") for each in ("fr", "en", "es")
    ]
    assert ["1,4 seconde :" in lines[0], "1.4 seconds," in lines[1], "1,4 segundos:" in lines[2]] == [True] * 3
