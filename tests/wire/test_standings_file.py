"""Points, standings and cuts in the competition file: what is read, and what is refused by name."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from tallywire.core.model.competition import Competition
from tallywire.core.ranking.cuts import Cut, CutTies
from tallywire.core.ranking.points import TiePolicy, worths
from tallywire.core.ranking.tie_rules import Order, TieRule
from wire.test_competition_file import GOOD, problems, read

POINTS = "places = [100, 90, 80]"
SECOND = (
    GOOD
    + """
[[event]]
id = "second"
name = "Second"

[event.workout]
format = "amrap"
time_cap = "5:00"

[[event.workout.station]]
movement = "Row"
amount = 10

[[heat]]
id = "h2"
name = "Heat 2"
event = "second"
lanes = { 1 = "e1", 2 = "e2" }

[[points]]
id = "other"
first = 50
step = 20
"""
)


def table(rule: str) -> Competition:
    """The competition with another points table."""
    return read(GOOD.replace(POINTS, rule))


@pytest.mark.parametrize(
    ("rule", "worth"),
    [
        ("places = [100, 90.1, 80]", [100, Fraction("90.1"), 80]),
        ("first = 100\nstep = 10", [100, 90, 80]),
        ("first = 10\nstep = 7.5", [10, Fraction("2.5"), 0]),
        ('formula = "100 - 5 * (place - 1)"', [100, 95, 90]),
        ("places = [100, 90, 80, 70, 60]\nscale_to = 5", [100, 80, 60]),
        ("first = 20\nstep = 10\nleast = 5", [20, 10, 5]),
    ],
)
def test_a_points_table_says_what_a_place_is_worth(rule: str, worth: list[Fraction]) -> None:
    """A list, a step, a formula, a scaled and a floored table give three entries the points worked out by hand."""
    assert list(worths(table(rule).points["table"], 3)) == worth


def test_an_event_names_how_ties_share() -> None:
    """Those who share a place earn the better place's points unless the event says the mean."""
    assert read().events["first"].ties is TiePolicy.SHARE_BETTER
    named = read(GOOD.replace('name = "First"', 'name = "First"\nties = "mean"'))
    assert named.events["first"].ties is TiePolicy.MEAN


def test_an_event_or_a_part_may_be_left_out_of_count_back() -> None:
    """A part says so itself, or else its event does; without a word every place breaks ties."""
    assert [part.in_count_back for part in read().events["first"].scored_parts()] == [True]
    out = GOOD.replace('name = "First"', 'name = "First"\ncount_back = false')
    assert [part.in_count_back for part in read(out).events["first"].scored_parts()] == [False]
    parts = "".join(
        f'[[event.part]]\nid = "{name}"\nname = "{name}"\nmeasure = "reps_at"\nat = "1:00"\n{own}'
        for name, own in (("early", ""), ("late", "count_back = true\n"))
    )
    both = read(out.replace("[[heat]]", parts + "[[heat]]", 1)).events["first"].scored_parts()
    assert [(part.id, part.in_count_back) for part in both] == [("early", False), ("late", True)]


def test_the_rules_of_the_standing_are_read() -> None:
    """Order, dropped scores and tie rules arrive in the core's terms; without the table the usual ones hold."""
    assert read().standing_rules.ties == (TieRule.COUNT_BACK, TieRule.LAST_EVENT)
    rules = '[standings]\norder = "fewest"\ndrop_worst = 1\ndrop_from = 2\nties = ["best_scores", "latest_events"]\n'
    low = re.sub(r"places = .*|first = .*\nstep = .*", 'formula = "place"', SECOND)
    found = read(low + rules + "drop_disqualified = false\n")
    assert (found.standing_rules.order, found.standing_rules.drop_worst, found.standing_rules.drop_from) == (
        Order.FEWEST,
        1,
        2,
    )
    assert found.standing_rules.ties == (TieRule.BEST_SCORES, TieRule.LATEST_EVENTS)
    assert not found.drop_disqualified


def test_tables_change_from_an_event_on() -> None:
    """An event without a table takes the latest change; one that names its own keeps it."""
    change = '[standings]\ntables_from = [{ event = "second", points = "other" }]\n'
    assert [event.points for event in read(SECOND).events.values()] == ["table", "table"]
    assert [event.points for event in read(SECOND + change).events.values()] == ["table", "other"]
    named = SECOND.replace('name = "Second"', 'name = "Second"\npoints = "table"')
    assert [event.points for event in read(named + change).events.values()] == ["table", "table"]


def test_a_cut_is_for_all_divisions_or_for_one() -> None:
    """The cut of the division goes before the one for all."""
    both = '[[cut]]\nafter = "first"\nsize = 2\n[[cut]]\nafter = "first"\nsize = 1\ndivision = "women"\nties = "none"\n'
    found = read(SECOND + both)
    assert found.cut_after("first", "women") == Cut(size=1, ties=CutTies.NONE)
    assert found.cut_after("first", "men") == Cut(size=2)
    assert found.cut_after("second", "women") is None
    assert (found.is_cut_before("second", "women"), found.is_cut_before("first", "women")) == (True, False)


@pytest.mark.parametrize(
    ("rule", "problem"),
    [
        ("", "points[1]: found no values, expected one of places, first and step, or formula"),
        (
            'places = [3, 2]\nformula = "place"',
            "points[1]: found places, formula, expected one of places, first and step, or formula",
        ),
        ("first = 100", "points[1].step: found nothing, expected a value: first and step go together"),
        (
            "places = [100, 90]\nscale_to = 3",
            "points[1].scale_to: found 3, expected at most the places of the list: a table of 2 places",
        ),
        (
            'formula = "10 / (2 - place)"',
            'event[1].points: found no value of "10 / (2 - place)" for place 2 in a field of 2, '
            "expected a number for every place",
        ),
        (
            'formula = "10 / (place - 1)"',
            'event[1].points: found no value of "10 / (place - 1)" for place 1 in a field of 2, '
            "expected a number for every place",
        ),
        (
            'formula = "1 - place"',
            'event[1].points: found -1 from "1 - place" for place 2 in a field of 2, '
            "expected no negative points: wrap it in max(0, …) or set least",
        ),
        (
            "places = [5, 10]",
            "points[1].places: found 10 for place 2, expected no more than 5 for place 1: the most points win",
        ),
        (
            'formula = "place"',
            "event[1].points, a field of 2: found 2 for place 2, "
            "expected no more than 1 for place 1: the most points win",
        ),
        ("places = [100]", "event[1].points: found a table of 1 places, expected at least 2: the field is that large"),
    ],
)
def test_an_impossible_table_is_named(rule: str, problem: str) -> None:
    """A table without values, with two kinds, half a step, no value for a place or too few places is refused."""
    assert problem in problems(GOOD.replace(POINTS, rule))


def test_low_points_may_not_fall() -> None:
    """Where the fewest points win, a step that goes down, or a list that does, would make the last one the winner."""
    fewest = '[standings]\norder = "fewest"\n'
    falling = problems(GOOD.replace(POINTS, "places = [2, 1]") + fewest)
    stepped = problems(GOOD.replace(POINTS, "first = 10\nstep = 1") + fewest)
    assert falling == [
        "points[1].places: found 1 for place 2, expected no less than 2 for place 1: the fewest points win"
    ]
    assert stepped == ["points[1].step: found 1, expected places or a formula: the fewest points win"]


def test_a_formula_of_other_words_is_named() -> None:
    """Only arithmetic in place and field is a formula; what was found is said."""
    found = problems(GOOD.replace(POINTS, 'formula = "exec(place)"'))
    assert len(found) == 1
    assert found[0].startswith('points[1].formula: found "exec" in the formula "exec(place)"')


@pytest.mark.parametrize(
    ("rules", "problem"),
    [
        ("[standings]\ndrop_worst = 2", "standings.drop_worst: found 2, expected fewer than the 2 scores there are"),
        ("[standings]\ndrop_from = 3", "standings.drop_from: found 3, expected at most 2, the number of scores"),
        (
            '[standings]\nties = ["shared", "last_event"]',
            "standings.ties: found shared, last_event, expected shared at the end only: nothing is compared after it",
        ),
        (
            '[standings]\norder = "fewest"\nties = ["count_back_scoring"]',
            "standings.ties: found count_back_scoring, expected count_back: "
            "where the fewest points win every place scores",
        ),
        (
            '[standings]\nties = ["last_event", "last_event"]',
            "standings.ties: found last_event twice, expected each tie rule once",
        ),
        (
            '[standings]\ntables_from = [{ event = "third", points = "othr" }]',
            'standings.tables_from[1].event: found "third", expected an event of this file: first, second',
        ),
        (
            '[standings]\ntables_from = [{ event = "second", points = "othr" }]',
            'standings.tables_from[1].points: found "othr", expected a points table of this file: table, other',
        ),
        (
            '[[cut]]\nafter = "frst"\nsize = 1',
            'cut[1].after: found "frst", expected an event of this file: first, second',
        ),
        (
            '[[cut]]\nafter = "second"\nsize = 1',
            'cut[1].after: found "second", expected an event with others after it',
        ),
        ('[[cut]]\nafter = "first"\nsize = 3', "cut[1].size: found 3, expected at most 2: the field is no larger"),
        (
            '[[cut]]\nafter = "first"\nsize = 1\ndivision = "men"',
            'cut[1].division: found "men", expected a division of this file: women',
        ),
        (
            '[[cut]]\nafter = "first"\nsize = 1\n[[cut]]\nafter = "first"\nsize = 2',
            "cut[2]: found a second cut after that event, expected one cut: cut[1] has it",
        ),
    ],
)
def test_impossible_rules_are_named(rules: str, problem: str) -> None:
    """More dropped scores than there are, unknown events and tables, and cuts that cannot be made are refused."""
    assert problem in problems(SECOND + rules + "\n")


def vacant(*places: tuple[str, int]) -> str:
    """The file with vacant places in its first event."""
    said = ", ".join(f'{{ division = "{division}", place = {place} }}' for division, place in places)
    return SECOND.replace('id = "first"\n', f'id = "first"\nvacant = [{said}]\n', 1)


def test_a_place_may_be_left_vacant() -> None:
    """A place of a division is vacant in the event that names it, and in no other."""
    found = read(vacant(("women", 2), ("women", 1)))
    parts = [event.scored_parts()[0] for event in found.events.values()]
    assert [part.vacant_in("women") for part in parts] == [(2, 1), ()]
    assert parts[0].vacant_in("men") == ()


@pytest.mark.parametrize(
    ("places", "problem"),
    [
        ([("women", 3)], "event[1].vacant[1].place: found 3, expected at most 2: the field is no larger"),
        (
            [("women", 2), ("women", 2)],
            "event[1].vacant[2]: found place 2 a second time, expected it once: event[1].vacant[1] has it",
        ),
        ([("men", 1)], 'event[1].vacant[1].division: found "men", expected a division of this file: women'),
    ],
)
def test_an_impossible_vacant_place_is_named(places: list[tuple[str, int]], problem: str) -> None:
    """A vacant place of no division, beyond the field or named twice is refused."""
    assert problems(vacant(*places)) == [problem]


def test_with_parts_each_part_has_its_own_vacant_places() -> None:
    """A vacant place of an event with parts would be one of no places; in a part it is read."""
    part = '[[event.part]]\nid = "whole"\nname = "Whole"\nmeasure = "result"\n'
    text = vacant(("women", 2)).replace("[[heat]]", part + "\n[[heat]]", 1)
    assert problems(text) == [
        "event[1].vacant: found a vacant place, expected it in the parts: each has places of its own"
    ]
    moved = SECOND.replace("[[heat]]", part + 'vacant = [{ division = "women", place = 1 }]\n\n[[heat]]', 1)
    assert read(moved).events["first"].scored_parts()[0].vacant_in("women") == (1,)


def test_a_formula_needs_a_value_as_far_as_places_go() -> None:
    """With a vacant place the last of two may be third, in a field that reaches so far."""
    text = GOOD.replace(POINTS, 'formula = "10 / (3 - field)"')
    assert read(text).points
    vacant_second = 'id = "first"\nvacant = [{ division = "women", place = 2 }]\n'
    found = problems(text.replace('id = "first"\n', vacant_second, 1))
    assert "event[1].points: found no value of" in found[0]
    assert "in a field of 3" in found[0]


def test_every_part_needs_its_table() -> None:
    """A part with a table of its own that is shorter than the field is named."""
    part = '[[event.part]]\nid = "early"\nname = "Early"\nmeasure = "reps_at"\nat = "1:00"\npoints = "short"\n'
    text = SECOND.replace('[[heat]]\nid = "h2"', part + '[[heat]]\nid = "h2"')
    text += '[[points]]\nid = "short"\nplaces = [10]\n'
    assert problems(text) == [
        "event[2].part[1].points: found a table of 1 places, expected at least 2: the field is that large"
    ]


def test_a_heat_seeded_later_may_be_empty() -> None:
    """Lanes may be missing where the heat says so; the table must then reach as far as the cut lets through."""
    later = SECOND.replace('lanes = { 1 = "e1", 2 = "e2" }', "seeded_later = true")
    assert read(later).heats["h2"].lanes == {}
    assert problems(later.replace("seeded_later = true", "seeded_later = false")) == [
        "heat[2].lanes: found no lanes, expected at least one lane, here or in a start list"
    ]
    short = later.replace('name = "Second"', 'name = "Second"\npoints = "one"')
    short += '[[points]]\nid = "one"\nplaces = [10]\n'
    assert "event[2].points: found a table of 1 places" in problems(short)[0]
    assert read(short + '[[cut]]\nafter = "first"\nsize = 1\n').field_size("second", "women") == 0


def test_who_left_names_an_event() -> None:
    """An entry leaves after an event of the file."""
    text = GOOD.replace('short = "Two"', 'left_after = "frst"')
    assert problems(text) == ['entry[2].left_after: found "frst", expected an event of this file: first']
    assert read(text.replace("frst", "first")).entries["e2"].left_after == "first"


def test_a_cut_of_one_division_leaves_the_others_as_they_are() -> None:
    """One of the men goes on: two women are still in the second event, for which a table of one place is too short."""
    men = '[[division]]\nid = "men"\nname = "Men"\n[[entry]]\nid = "m1"\nname = "M"\ndivision = "men"\n'
    text = SECOND.replace('name = "Second"', 'name = "Second"\npoints = "one"')
    text += men + '[[points]]\nid = "one"\nplaces = [10]\n[[cut]]\nafter = "first"\nsize = 1\ndivision = "men"\n'
    text = text.replace('lanes = { 1 = "e1", 2 = "e2" }', "seeded_later = true")
    assert "event[2].points: found a table of 1 places, expected at least 2: the field is that large" in problems(text)


def test_a_divisions_own_cut_says_how_many_are_left() -> None:
    """One goes on in each division, but two of the women: a table of one place is too short for what comes then."""
    text = SECOND.replace('lanes = { 1 = "e1", 2 = "e2" }', "seeded_later = true")
    text = text.replace('name = "Second"', 'name = "Second"\npoints = "one"')
    text += '[[points]]\nid = "one"\nplaces = [10]\n[[cut]]\nafter = "first"\nsize = 1\n'
    assert read(text).cut_after("first", "women") == Cut(size=1)
    own = problems(text + '[[cut]]\nafter = "first"\nsize = 2\ndivision = "women"\n')
    assert "event[2].points: found a table of 1 places" in own[0]
