"""Floors in the competition file: what is read, and what is wrong with them."""

from __future__ import annotations

import re

import pytest

from wire.test_competition_file import GOOD, problems, read

FLOOR_TABLES = """
[[event]]
id = "second"
name = "Second"
workout = { format = "amrap", time_cap = "5:00", station = [{ movement = "Row", amount = 9 }] }

[[floor]]
id = "east"
name = "East hall"

[[floor]]
id = "west"
name = "West hall"

[[output]]
id = "world"
name = "World"
floor = "west"

[[heat]]
id = "h1"
name = "Heat 1"
event = "first"
floor = "east"
lanes = { 2 = "e2" }
start = 2027-06-05T14:00:00+02:00

[[heat]]
id = "h2"
name = "Heat 2"
event = "second"
floor = "west"
start = 2027-06-05T13:00:00+02:00
lanes = { 2 = "e1" }
"""
FLOORS = GOOD.partition("\n[[heat]]")[0] + FLOOR_TABLES
"""Two floors, each with a heat on a lane 2; that of the second floor starts before the first one's, which is fine."""


def test_floors_are_read() -> None:
    """Each heat and each output has its floor; two floors have the same lane, and each its own order of the day."""
    found = read(FLOORS)
    assert {each.id: each.name for each in found.floors.values()} == {"east": "East hall", "west": "West hall"}
    assert {each.id: each.floor for each in found.heats.values()} == {"h1": "east", "h2": "west"}
    assert found.outputs["world"].floor == "west"
    assert [(each.floor, each.lane) for each in found.places] == [("east", 1), ("east", 2), ("west", 2)]


def test_an_output_may_have_a_language_of_its_own() -> None:
    """Without one it goes by the competition's."""
    own = FLOORS.replace('name = "World"', 'name = "World"\nlanguage = "ar"')
    assert [read(text).outputs["world"].language for text in (own, FLOORS)] == ["ar", ""]


def test_without_outputs_each_floor_has_one() -> None:
    """Where a file with floors names no outputs there is one for each floor, under the floor's id."""
    bare = FLOORS.replace('[[output]]\nid = "world"\nname = "World"\nfloor = "west"\n', "")
    assert {each.id: each.floor for each in read(bare).outputs.values()} == {"east": "east", "west": "west"}


def test_outputs_that_nobody_named_are_named_in_the_competition_s_language() -> None:
    """The desk shows their names; the ids stay."""
    spanish = FLOORS.replace("[competition]", '[competition]\nlanguage = "es"')
    named = re.sub(r"\[\[output\]\][^[]*", "", spanish)
    assert {each.id: each.name for each in read(named).outputs.values()} == {
        "east": "Señal internacional, East hall",
        "west": "Señal internacional, West hall",
    }
    assert [each.name for each in read(GOOD).outputs.values()] == ["World feed"]


_TWO_ON_EAST = ('event = "second"\nfloor = "west"', 'event = "second"\nfloor = "east"')
WRONG_FLOORS = {
    "none": (
        'floor = "east"\nlanes',
        "lanes",
        "heat[1].floor: found nothing, expected a floor of this file: east, west",
    ),
    "unknown": (
        'floor = "east"\nlanes',
        'floor = "pier"\nlanes',
        'heat[1].floor: found "pier", expected a floor of this file: east, west',
    ),
    "an output without one": (
        'floor = "west"\n\n[[heat]]',
        "\n[[heat]]",
        "output[1].floor: found nothing, expected a floor of this file: east, west",
    ),
    "one name": (
        'name = "West hall"',
        'name = "East hall"',
        'floor[2].name: found "East hall", expected one of its own: floor[1] has it',
    ),
    "one id": ('id = "west"', 'id = "east"', 'floor[2].id: found "east", expected one of its own: floor[1] has it'),
    "no heat": (*_TWO_ON_EAST, 'floor[2]: found "west", expected a floor that at least one heat names'),
    "out of order": (
        *_TWO_ON_EAST,
        "heat[2].start: found 2027-06-05T13:00:00+02:00, expected not before heat[1], 2027-06-05T14:00:00+02:00: "
        "heats stand in the order of the day",
    ),
    "a heat called like one": (
        'id = "h2"',
        'id = "floor:west"',
        'heat[2].id: found "floor:west", expected another id: this one means the heat on the floor',
    ),
    "an odd id": ('id = "west"', 'id = "we:st"', 'floor[2].id: found "we:st", expected letters, digits and _ - alone'),
}


@pytest.mark.parametrize("case", WRONG_FLOORS)
def test_a_wrong_floor_is_named(case: str) -> None:
    """A heat or an output without a floor, or with an unknown one; floors that cannot be told apart, or are empty."""
    old, new, problem = WRONG_FLOORS[case]
    assert old in FLOORS
    found = problems(FLOORS.replace(old, new, 1))
    assert [each for each in found if each.startswith(problem)], found


def test_a_floor_that_the_file_does_not_name_is_a_problem() -> None:
    """Without any [[floor]] no heat may name one."""
    text = GOOD.replace('event = "first"\nlanes', 'event = "first"\nfloor = "east"\nlanes')
    assert problems(text) == ['heat[1].floor: found "east", expected a floor of this file: this file names none']
