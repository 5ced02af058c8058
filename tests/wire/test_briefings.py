"""What the booth is told of an entry: the fields of the file, and the columns of start lists."""

from __future__ import annotations

import pytest

from tallywire.core.model.competition import Briefing
from wire.test_competition_file import GOOD, problems, read

SAID = GOOD.replace(
    "points_before = 40",
    """points_before = 40
say = "EN-tree WUN"
ipa = "ˈɛntri wʌn"
age_class = "35 to 39"
facts = ["Won here", "Back after a year"]
caution = "the fall\"""".replace('\\"', '"'),
)


def test_the_fields_of_an_entry_are_for_the_booth() -> None:
    """They arrive apart from the entry; one without any has none."""
    known = read(SAID)
    assert known.briefings == {
        "e1": Briefing(
            say="EN-tree WUN",
            ipa="ˈɛntri wʌn",
            age_class="35 to 39",
            facts=("Won here", "Back after a year"),
            caution="the fall",
        )
    }
    assert known.briefing_of("e2") == Briefing()


def test_a_start_list_adds_what_the_file_has_not() -> None:
    """A table may have respellings and facts, parted by a stroke; what the file says already is not said twice."""
    lanes = "heat,lane,entry,say,facts,caution\r\nh1,1,e1,EN-tree WUN,Won here | Coaches juniors,\r\n"
    told = read(SAID, {"lanes.csv": lanes}).briefings["e1"]
    assert told.facts == ("Won here", "Back after a year", "Coaches juniors")
    assert (told.say, told.caution) == ("EN-tree WUN", "the fall")
    assert read(GOOD, {"lanes.csv": lanes}).briefings["e1"] == Briefing(
        say="EN-tree WUN", facts=("Won here", "Coaches juniors")
    )


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        (
            "say",
            "OH-ther",
            'lanes.csv line 2, say: found "OH-ther", expected "EN-tree WUN", as the competition file has it',
        ),
        ("caution", "x" * 161, "expected at most 160 characters"),
        ("facts", "|".join(f"fact {n}" for n in range(9)), "found 11 facts of one entry, expected at most 9"),
        ("ipa", "a\x07b", "expected text without control characters or line breaks: there is U+0007 at 2"),
    ],
)
def test_what_a_start_list_says_wrongly_is_named_with_its_line(column: str, value: str, said: str) -> None:
    """Another respelling than the file's, too many facts, and text out of bounds are problems of that line."""
    lanes = f"heat,lane,entry,{column}\r\nh1,1,e1,{value}\r\n"
    found = problems(SAID, {"lanes.csv": lanes})
    assert [each for each in found if "line 2" in each and said in each]


@pytest.mark.parametrize(
    ("field", "said"),
    [
        ("facts = ['']", "expected text that is not empty"),
        ("facts = ['  ']", "expected text that is not blank"),
        ("facts = 'Won here'", "expected a list"),
        (f"say = '{'x' * 81}'", "expected at most 80 characters"),
        (f"facts = {['x'] * 10}", "expected at most 9 of them"),
    ],
)
def test_the_fields_have_bounds(field: str, said: str) -> None:
    """What cannot be taken in at a glance, and what is nothing, is refused."""
    [found] = problems(GOOD.replace("points_before = 40", field))
    assert said in found


def test_nine_facts_of_an_entry_are_taken_wherever_they_stand() -> None:
    """Two in the file and seven in the start list; one more in the list is a problem."""
    for count, taken in ((7, True), (8, False)):
        more = "|".join(f"fact {n}" for n in range(count))
        files = {"lanes.csv": f"heat,lane,entry,facts\r\nh1,1,e1,{more}\r\n"}
        if taken:
            assert len(read(SAID, files).briefings["e1"].facts) == 9
        else:
            assert any("found 10 facts of one entry" in line for line in problems(SAID, files))
