"""The competition file: what is read, and that everything wrong is named at once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from fractions import Fraction

import jsonschema
import pytest

from tallywire.core.errors import BadFile
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Credit, Mark
from tallywire.core.standings.overall import division_series
from tallywire.wire.competition_file import competition_schema, read_competition

GOOD = """
start_lists = ["lanes.csv"]

[competition]
name = "Test Trials"

[[division]]
id = "women"
name = "Women"

[[points]]
id = "table"
places = [100, 90, 80]

[[entry]]
id = "e1"
name = "Entry One"
division = "women"
points_before = 40

[[entry]]
id = "e2"
name = "Entry Two"
short = "Two"
division = "women"

[[event]]
id = "first"
name = "First"

[event.workout]
format = "for_time"
rounds = 5
time_cap = "15:00"
tie_break = { round = 4, station = 2 }

[[event.workout.station]]
movement = "Sled haul"
amount = 1
loads = { women = "60 kg" }

[[event.workout.station]]
movement = "Shuttle touch"
amount = 40
credit = "block"
expected_seconds = 42.5

[[heat]]
id = "h1"
name = "Heat 1"
event = "first"
lanes = { 2 = "e2" }
"""
LANES = 'heat,lane,entry,name\r\nh1,1,e1,"One, Entry"\r\n'


def read(text: str = GOOD, files: Mapping[str, str] | None = None) -> Competition:
    """Read a competition whose start lists stand in `files`."""
    known = {"lanes.csv": LANES} if files is None else files

    def read_bytes(name: str) -> bytes:
        if name not in known:
            raise FileNotFoundError(name)
        return known[name].encode()

    return read_competition("c.toml", text, read_bytes)


def problems(text: str = GOOD, files: Mapping[str, str] | None = None) -> list[str]:
    """Give the problems of a file as lines."""
    with pytest.raises(BadFile) as caught:
        read(text, files)
    return [str(problem) for problem in caught.value.problems]


def test_points_brought_in_may_have_decimals() -> None:
    """Half points are exact, as those of a table are, and go into the total as written."""
    competition = read(GOOD.replace("points_before = 40", "points_before = 2.5"))
    assert competition.entries["e1"].points_before == Fraction(5, 2)
    totals = {
        row.entry: row.total for row in division_series(CompetitionBook(competition).at_last_facts(), "women").rows
    }
    assert totals["e1"] == Fraction(5, 2)


def test_a_file_becomes_a_competition() -> None:
    """Every table arrives in the core's terms; lanes come from the file and from the start list."""
    competition = read()
    event = competition.events["first"]
    assert competition.heats["h1"].lanes == {1: "e1", 2: "e2"}
    assert (competition.entries["e1"].short, competition.entries["e1"].points_before) == ("Entry One", 40)
    assert (len(event.workout.rounds), event.workout.time_cap_ms) == (5, 900_000)
    assert event.workout.tie_break == Mark(round=4, station=2)
    haul, touch = event.workout.rounds[0]
    assert (haul.credit, haul.loads, touch.credit, touch.expected_ms) == (
        Credit.UNIT,
        {"women": "60 kg"},
        Credit.BLOCK,
        42_500,
    )


def test_everything_wrong_is_named_at_once() -> None:
    """Wrong shapes and wrong references are reported together, each with path, found and expected."""
    text = (
        GOOD.replace('format = "for_time"', 'format = "for_tme"')
        .replace("amount = 40", "amount = 0")
        .replace('division = "women"\npoints', 'division = "wimmen"\npoints')
        .replace('2 = "e2"', '1 = "e2"')
        .replace("station = 2 }", "station = 3 }")
        .replace('short = "Two"', 'shrt = "Two"')
    )
    assert problems(text) == [
        'entry[2].shrt: found an unknown field with "Two", expected only fields that are documented',
        "event[1].workout.format: found \"for_tme\", expected 'for_time', 'for_time_with_penalty', 'amrap', "
        "'max_load', 'ladder' or 'intervals'",
        "event[1].workout.station[2].amount: found 0, expected at least 1",
        'entry[1].division: found "wimmen", expected a division of this file: women',
        "event[1].workout.tie_break.station: found 3, expected a station from 1 to 2",
        "lanes.csv line 2: found lane 1 of h1 a second time, expected one entry on a lane: heat[1].lanes.1 has it",
    ]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("rounds = 5", "rounds = 0"),
        ("amount = 1\n", "amount = 0\n"),
        ("[100, 90, 80]", '["many"]'),
        ('"15:00"', "900"),
    ],
)
def test_one_wrong_value_hides_no_other_mistake_and_makes_none(old: str, new: str) -> None:
    """What stands in for a wrong value is itself right: beside it just the unknown event of the heat is named."""
    assert old in GOOD
    wrong = problems(GOOD.replace(old, new).replace('event = "first"', 'event = "frst"'))
    assert len(wrong) == 2, wrong
    assert any(line.startswith('heat[1].event: found "frst"') for line in wrong)


def test_a_record_is_of_a_division_or_of_all() -> None:
    """A record may name a division of the file or none; an unknown one is refused."""
    record = '[[event.record]]\nresult = "9:58"\nwho = "Somebody"\n'
    for said, expected in (("", []), ('division = "women"\n', []), ('division = "men"\n', ["men"])):
        text = GOOD.replace("[[heat]]", record + said + "\n[[heat]]", 1)
        if expected:
            (problem,) = problems(text)
            assert problem.startswith('event[1].record[1].division: found "men"')
        else:
            assert len(read(text).events["first"].records) == 1


def test_a_misspelt_format_makes_no_mistake_of_a_mark() -> None:
    """In the ninth round of endless work a mark is right: while the format cannot be read, nothing is said of it."""
    endless = GOOD.replace("round = 4", "round = 9")
    assert read(endless.replace('"for_time"', '"amrap"')).events
    (problem,) = problems(endless.replace('"for_time"', '"amrp"'))
    assert 'found "amrp"' in problem


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ('"15:00"', "900", 'event[1].workout.time_cap: found 900, expected a time in quotes such as "15:00"'),
        (
            '"15:00"',
            '"15.00"',
            'event[1].workout.time_cap: found "15.00", expected a time such as "15:00" or "11:42.318"',
        ),
        (
            "expected_seconds = 42.5",
            "expected_seconds = 0.0001",
            "event[1].workout.station[2].expected_seconds: found 0.0001, expected at least 0.1",
        ),
        ("round = 4", "round = 6", "event[1].workout.tie_break.round: found 6, expected a round from 1 to 5"),
        (
            "[100, 90, 80]",
            "[100]",
            "event[1].points: found a table of 1 places, expected at least 2: the field is that large",
        ),
        ('event = "first"', 'event = "frst"', 'heat[1].event: found "frst", expected an event of this file: first'),
        ('id = "e2"', 'id = "e1"', 'entry[2].id: found "e1", expected an id of its own: entry[1] has it'),
        (
            "{ women =",
            "{ wmn =",
            'event[1].workout.station[1].loads.wmn: found "wmn", expected a division of this file: women',
        ),
        (
            'id = "h1"',
            'id = "floor"',
            'heat[1].id: found "floor", expected another id: this one means the heat on the floor',
        ),
        ('name = "Heat 1"', "", "heat[1].name: found nothing, expected a value: this field is required"),
    ],
)
def test_a_wrong_value_is_named(old: str, new: str, problem: str) -> None:
    """A wrong value is named with its path, what was found and what was expected."""
    assert problem in problems(GOOD.replace(old, new, 1))


def test_broken_toml_is_one_problem() -> None:
    """A file that is not TOML says where it breaks."""
    assert problems("[competition\n") == [
        "the file: found Expected ']' at the end of a table declaration (at line 1, column 13), expected TOML"
    ]


@pytest.mark.parametrize(
    ("lanes", "problem"),
    [
        ("heat,lane\nh1,1\n", "lanes.csv line 1: found heat, lane, expected a header with heat, lane, entry"),
        ("", "lanes.csv line 1: found no header, expected a header with heat, lane, entry"),
        ("heat,lane,entry\nh1,0,e1\n", 'lanes.csv line 2, lane: found "0", expected a whole number from 1 to 99'),
        ("heat,lane,entry\nh9,1,e1\n", 'lanes.csv line 2: found "h9", expected a heat of this file: h1'),
        ("heat,lane,entry\nh1,1,e9\n", 'lanes.csv line 2, entry: found "e9", expected an entry of this file: e1, e2'),
        (
            "heat,lane,entry\nh1,3,e2\n",
            'lanes.csv line 2: found "e2" a second time, expected one heat of the event for an entry: '
            "heat[1].lanes.2 has it",
        ),
        ('heat,lane,entry\nh1,1,"e1\n', "lanes.csv line 2: found unexpected end of data, expected CSV as in RFC 4180"),
    ],
)
def test_a_wrong_start_list_is_named_by_line(lanes: str, problem: str) -> None:
    """A start list is checked line by line."""
    assert problem in problems(files={"lanes.csv": lanes})


def test_a_missing_start_list_is_named() -> None:
    """A start list that cannot be read is named with the reason."""
    assert problems(files={}) == ['start_lists[1]: found "lanes.csv" (lanes.csv), expected a CSV file that can be read']


def test_a_start_list_may_quote_and_carry_a_byte_order_mark() -> None:
    """Quoted fields keep commas, quotes and line breaks (RFC 4180 §2), and a byte order mark is passed over."""
    lanes = '\ufeffentry,name,lane,heat\r\ne1,"a ""b"",\r\nc",1,h1\r\n'
    assert read(files={"lanes.csv": lanes}).heats["h1"].lanes == {1: "e1", 2: "e2"}


def test_a_start_list_may_have_semicolons() -> None:
    """As spreadsheets write them where the comma is the decimal sign; commas in the fields stay commas."""
    lanes = 'heat;lane;entry;name\r\nh1;1;e1;"a; b"\r\n'
    assert read(files={"lanes.csv": lanes}).heats["h1"].lanes == {1: "e1", 2: "e2"}


def test_a_start_list_in_another_encoding_is_named_by_line() -> None:
    """The line and the byte are told. Latin-1 writes é as E9, which UTF-8 never has alone (RFC 3629)."""
    text = "heat,lane,entry,name\nh1,1,e1,Zoé\n".encode("latin-1")
    with pytest.raises(BadFile) as caught:
        read_competition("comp.toml", GOOD, lambda _name: text)
    assert "lanes.csv line 2: found the byte E9, which is no UTF-8, expected a file that was saved as UTF-8" in [
        str(each) for each in caught.value.problems
    ]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("   ", "text that is not blank"),
        ("\\u3000", "text that is not blank"),
        ("Wo\\u0007men", "text without control characters or line breaks: there is U+0007 at 3"),
        ("Women\\nOpen", "text without control characters or line breaks: there is U+000A at 6"),
        ("Women\\u2028", "text without control characters or line breaks: there is U+2028 at 6"),
    ],
)
def test_a_name_that_cannot_be_shown_is_refused(name: str, expected: str) -> None:
    """Blank names and control characters. Source: the categories of Unicode, from Python's `unicodedata`."""
    found = problems(GOOD.replace('name = "Women"', f'name = "{name}"', 1))
    assert len(found) == 1
    assert found[0].startswith("division[1].name: found ")
    assert found[0].endswith(f", expected {expected}")


def test_names_of_every_script_are_taken() -> None:
    """Joiners and marks of direction are part of names: Persian has a zero-width non-joiner, U+200C."""
    name = "\u0646\u0648\u0631\u200c\u0627\u0644\u062f\u06cc\u0646"
    assert read(GOOD.replace('name = "Women"', f'name = "{name}"', 1)).divisions["women"].name == name


def test_the_schema_accepts_what_we_accept() -> None:
    """The printed JSON Schema is valid, takes the example and refuses a wrong one. Source: the `jsonschema` package."""
    schema = competition_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(tomllib.loads(GOOD), schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(GOOD.replace("for_time", "for_tme")), schema)
