"""The wording of cues: what the file must hold, and how values are written in it."""

from __future__ import annotations

import re

import pytest

from tallywire.core.cues import Cue, Kind, Wording, say
from tallywire.core.cues.cue import Value
from tallywire.core.cues.format_words import vocabulary
from tallywire.core.errors import BadFile
from tallywire.wire.cue_wording import default_wording, read_wording, wording_text

DEFAULT = wording_text()


SAMPLES: dict[str, Value] = {"name": "Vale", "word": "Vale", "time": 2_400, "pieces": "lowest", "load": 96_000}
"""A value of each sort; counts and bars are three."""


def cue(template: str, **values: Value) -> Cue:
    """A cue with these values."""
    return Cue(kind=Kind.LEAD, template=template, key="k", lanes=(1,), values=values, weight=50, at_ms=0, ttl_ms=1_000)


def said(line: str, **values: Value) -> str:
    """A line of a wording of our own, filled in."""
    own = default_wording()
    return say(
        cue("finish", **values),
        Wording(lines={"finish": line}, units=own.units, ordinals=own.ordinals, numbers=own.numbers),
    )


def problems(text: str) -> list[str]:
    """What is wrong with a wording."""
    with pytest.raises(BadFile) as caught:
        read_wording("mine.toml", text)
    return [str(problem) for problem in caught.value.problems]


def changed(key: str, line: str) -> str:
    """The default wording with one line changed."""
    text, count = re.subn(rf"^{key} = .*$", f"{key} = {line}", DEFAULT, flags=re.MULTILINE)
    assert count == 1
    return text


def test_every_default_line_can_be_said() -> None:
    """The default wording has every line, and each can be filled with every value it may use."""
    wording = default_wording()
    assert set(wording.lines) == set(vocabulary().lines)
    for template, fields in vocabulary().lines.items():
        values: dict[str, Value] = {key: SAMPLES.get(what, 3) for key, what in fields.items()} | {"unit": "kg"}
        line = say(cue(template, **values), wording)
        assert "Vale" in line
        assert "{" not in line
        assert line.endswith(".")


@pytest.mark.parametrize(
    ("line", "value", "expected"),
    [
        ("{x_ms:clock}", 702_318, "11:42"),
        ("{x_ms:tenths}", 702_318, "11:42.3"),
        ("{x_ms:exact}", 702_318, "11:42.318"),
        ("{x_ms:seconds}", 687, "0.6 seconds"),
        ("{x_ms:seconds}", 31, "0.031 seconds"),
        ("{x_ms:seconds}", 1_000, "One second"),
        ("{x_ms:seconds}", 2_439, "2.4 seconds"),
        ("{x_ms:seconds}", 9_960, "9.9 seconds"),
        ("{x_ms:seconds}", 43_228, "43 seconds"),
        ("{x_ms:seconds}", 10_960, "Ten seconds"),
        ("{x_ms:about}", 1_000, "5 seconds"),
        ("{x_ms:about}", 38_000, "40 seconds"),
        ("{x_ms:about}", 90_603, "90 seconds"),
        ("{x_ms:ordinal}", 3, "Third"),
        ("{x_ms:ordinal}", 13, "13."),
        ("{x_ms:number}", 0, "No"),
        ("{x_ms:number}", -1, "-1"),
        ("{x_ms:number}", 12, "Twelve"),
        ("{x_ms:number}", 13, "13"),
        ("{x_ms:reps}", 1, "One rep"),
        ("{x_ms:reps}", 44, "44 reps"),
    ],
)
def test_values_are_written_as_spoken(line: str, value: int, expected: str) -> None:
    """Small counts are words, times are cut, estimates are rounded, and a line begins with a capital."""
    assert said(line, x_ms=value) == expected


def test_names_keep_their_letters_and_movements_can_be_lowered() -> None:
    """A name is written as it is, even one with braces in it; a movement goes lower case in a sentence."""
    assert said("the {movement:lower} of {name}", movement="Box step-over", name="Éva {x}") == (
        "The box step-over of Éva {x}"
    )


@pytest.mark.parametrize(
    ("milli", "unit", "expected"),
    [
        (96_000, "kg", "96 kilograms"),
        (102_500, "kg", "102.5 kilograms"),
        (1_000, "kg", "one kilogram"),
        (3_000, "kg", "three kilograms"),
        (500, "kg", "0.5 kilograms"),
        (1_250, "lb", "1.25 pounds"),
        (225_000, "lb", "225 pounds"),
    ],
)
def test_loads_are_said_in_the_unit_of_the_workout(milli: int, unit: str, expected: str) -> None:
    """Whole loads as counts, others with the decimals they have, kilograms or pounds."""
    assert said_by_default("lift_saved", load_milli=milli, unit=unit, place=3) == (
        f"Vale makes {expected}, a first good lift with the last attempt: third in the heat."
    )


def test_a_bar_is_said_with_its_load_where_it_is_known() -> None:
    """The competition file may leave the load of a bar out."""
    assert said_by_default("last_left", bar=5) == "Vale is the last one in and cannot be caught: bar five is next."
    with_load = said_by_default("last_left", bar=5, load="100 kg")
    assert with_load == "Vale is the last one in and cannot be caught: bar five (100 kg) is next."


def test_which_pieces_count_is_said_in_words() -> None:
    """The format's rule is a word of the file, not of the program."""
    line = said_by_default("finish_pieces_level", other="Sedge", reps=22, counts="lowest")
    assert line == "Vale and Sedge share the win in the heat with 22 reps; the lowest piece counts."


def said_by_default(template: str, **values: Value) -> str:
    """A line of the default wording about Vale."""
    return say(cue(template, name="Vale", **values), default_wording())


def test_a_heat_of_several_divisions_is_told_apart() -> None:
    """A cue with a division is said under its name."""
    assert said("{name} leads.", name="Vale", division="Women") == "Women: Vale leads."


def test_a_translation_is_taken() -> None:
    """Another language, other order, other decimal mark."""
    text = changed("finish_first", '"In {time_ms:tenths} gewinnt {name} den Lauf."')
    wording = read_wording("de.toml", text.replace('decimal = "."', 'decimal = ","'))
    assert say(cue("finish_first", name="Vale", time_ms=702_318), wording) == "In 11:42,3 gewinnt Vale den Lauf."


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("lines = 3", "lines: found 3, expected a table"),
        ("[lines", "the file: found"),
        (changed("finish", '"{nome} is home."'), "lines.finish: found {nome}, expected one of {name}, {ahead}"),
        (
            changed("finish", '"{name} {place:clock}"'),
            "lines.finish: found {place:clock}, expected {place}, {place:ord",
        ),
        (changed("finish", '"{name} {time_ms}"'), "lines.finish: found {time_ms}, expected {time_ms:clock}"),
        (changed("finish", '"home"'), 'lines.finish: found "home", expected {name} in it'),
        (changed("finish", '"{name"'), 'lines.finish: found "{name", expected placeholders such as {name}'),
        (changed("finish", '""'), 'lines.finish: found "", expected a line of text in quotes'),
        (changed("finish", "5"), "lines.finish: found 5, expected a line of text in quotes"),
        (changed("finish", '"{name!r}"'), "lines.finish: found {name}, expected one of"),
        (changed("reps", '["{n} rep"]'), "units.reps: found ['{n} rep'], expected its forms by plural category"),
        (changed("reps", '["{n}", "{m}"]'), "units.reps: found {m}, expected one of {n}"),
        (changed("in_division", '"{division}"'), 'words.in_division: found "{division}", expected {line} in it'),
        (
            changed("bar_load", '"{bar:clock} {load}"'),
            "words.bar_load: found {bar:clock}, expected {bar}, {bar:ordinal}",
        ),
        (changed("bar", '"that bar"'), 'words.bar: found "that bar", expected {bar} in it'),
        (changed("lowest", "3"), "pieces.lowest: found 3, expected text in quotes"),
        (DEFAULT.replace("slowest =", "slowly ="), "pieces.slowest: found nothing, expected this key"),
        (changed("last_left", '"{name} {bar}"'), "lines.last_left: found {bar}, expected {bar:bar}"),
        (
            changed("lift_up", '"{name} {load_milli:kg}"'),
            "lines.lift_up: found {load_milli:kg}, expected {load_milli:load}",
        ),
        (changed("numbers", "[1, 2]"), "words.numbers: found [1, 2], expected a list of words"),
        (changed("decimal", "1"), "words.decimal: found 1, expected text in quotes"),
        (DEFAULT + 'something = "{name}"', "lines.something: found an unknown key, expected only"),
        (DEFAULT + "\n[more]\n", "more: found an unknown table, expected words, ordinal, units, pieces, lines"),
    ],
)
def test_each_fault_of_a_wording_is_named(text: str, expected: str) -> None:
    """Every fault is named with its place, what was found and what was expected."""
    assert [each for each in problems(text) if each.startswith(expected)], problems(text)


def test_all_faults_are_named_at_once() -> None:
    """A wording with a line missing and another wrong gets both named."""
    text = changed("finish", '"{nome}"').replace("round_first =", "round_last =")
    assert {each.split(":")[0] for each in problems(text)} == {"lines.finish", "lines.round_first", "lines.round_last"}
