"""What is wrong with a competition file, in every language: no problem that a page shows has English words alone."""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Iterable
from pathlib import Path

import pytest

from cli.test_check_all_at_once import FILES, LANES, PLANTS, SCENARIOS
from tallywire.core.errors import BadFile, Problem
from tallywire.wire.catalogue import LANGUAGES, catalogue
from tallywire.wire.competition_file import competition_from
from tallywire.wire.problem_words import AT, EXPECTED, FOUND, problem_said
from tallywire.wire.problems import REQUIRED
from tallywire.wire.toml_lines import located

SERVER = Path(__file__).parents[2] / "server" / "tallywire"


def planted(name: str) -> Problem:
    """Give the one problem of a file with a planted mistake."""
    files = dict(FILES)
    PLANTS[name](random.Random(name), files)
    with pytest.raises(BadFile) as caught:
        competition_from("file", tomllib.loads(files["saltmarsh.toml"]), lambda each: files[each].encode())
    [problem] = caught.value.problems
    return problem


@pytest.mark.parametrize("name", PLANTS)
def test_what_a_check_expects_has_its_words(name: str) -> None:
    """Of each mistake that the test of `check` plants, every language says otherwise what is expected."""
    problem = planted(name)
    said = [problem_said(problem, catalogue(language))["expected"] for language in LANGUAGES[1:]]
    assert problem.expected == REQUIRED or not {problem.expected} & set(said)


def test_what_was_found_is_a_value_or_has_its_words() -> None:
    """What is no value out of the file, in quotes or figures, is said in the page's language."""
    french = catalogue("fr")
    for problem in map(planted, PLANTS):
        value = re.fullmatch(r'".*"|-?[\d.:T+ -]+|\d+ ms', problem.found)
        assert value or problem_said(problem, french)["found"] != problem.found, problem


ROWS = {
    "no header": "",
    "a header of other names": "series,lane,athlete\n",
    "an odd lane": "heat,lane,entry\nwomen-1,eleven,w1\n",
    "an unknown heat": "heat,lane,entry\nwomen-9,1,w1\n",
    "an unknown entry": "heat,lane,entry\nwomen-1,1,w77\n",
    "a lane a second time": "heat,lane,entry\nwomen-1,1,w1\nwomen-1,1,w2\n",
    "an entry a second time": "heat,lane,entry\nwomen-1,1,w1\nwomen-2,1,w1\n",
    "rows that disagree": "heat,lane,entry,say\nwomen-1,1,w12,AH-na\nebb-women,1,w12,AN-na\n",
    "a row that disagrees with the file": "heat,lane,entry,caution\nwomen-1,1,w1,her knee\n",
    "too many facts": "heat,lane,entry,facts\nwomen-1,1,w12,a|b|c|d|e\nebb-women,1,w12,f|g|h|i|j\n",
    "a long respelling": f"heat,lane,entry,say\nwomen-1,1,w1,{'x' * 81}\n",
    "quotes without an end": 'heat,lane,entry\n"women-1,1,w1\n',
    "more behind quotes": 'heat,lane,entry\n"women-1"x,1,w1\n',
    "a field without an end": f"heat,lane,entry\n{'x' * 140_000},1,w1\n",
    "no UTF-8": "heat,lane,entry\nwomen-1,1,w\udce9\n",
}
"""Start lists, each with something wrong in a row."""
TABLES = {
    "a formula of other words": '[[points]]\nid = "p"\nformula = "exec(place)"',
    "a formula of other signs": '[[points]]\nid = "p"\nformula = "min(place) if place else field"',
    "a formula that ends": '[[points]]\nid = "p"\nformula = "100 - "',
    "a long formula": f'[[points]]\nid = "p"\nformula = "{"+".join(["1"] * 70)}"',
    "a formula without a value": '[[points]]\nid = "p"\nformula = "100 / (place - 1)"',
    "a formula below nothing": '[[points]]\nid = "p"\nformula = "5 - 5 * place"',
    "a formula that rises": '[[points]]\nid = "p"\nformula = "place"',
    "two ways at once": '[[points]]\nid = "p"\nplaces = [1]\nfirst = 3\nstep = 1',
    "points without end": '[[points]]\nid = "p"\nfirst = inf\nstep = 1',
    "points in words": '[[points]]\nid = "p"\nfirst = "ten"\nstep = 1',
    "no colour": '[theme]\nchalk = "white"',
    "colours too near": '[theme]\nfinish = "#ff9d1f"\ncap = "#ff9d20"',
    "colours too near for some": '[theme]\nfinish = "#7fc241"\ncap = "#e0a030"',
    "a pale colour": '[theme]\nchalk = "#303030"',
    "a red that flashes": '[theme]\nout = "#ff1010"',
    "no font": '[theme]\nface = "saltmarsh.toml"',
    "no picture": '[theme]\nlogo = "saltmarsh.toml"',
    "a font that is not there": '[theme]\nface = "none.woff2"',
    "no start list": 'start_lists = ["none.csv"]',
    "no view": '[[rundown]]\noutput = "hall"\nitem = [{ view = "moon" }]',
    "a view with too much": '[[rundown]]\noutput = "hall"\nitem = [{ view = "clock", who = "leader" }]',
    "a view of no part": '[[rundown]]\noutput = "hall"\nitem = [{ view = "event", part = "moon" }]',
    "a view of nobody": '[[rundown]]\noutput = "hall"\nitem = [{ view = "athlete" }]',
    "a view of something": '[[rundown]]\noutput = "hall"\nitem = [{ view = "athlete", who = "moon" }]',
    "a view of no lane": '[[rundown]]\noutput = "hall"\nitem = [{ view = "athlete", who = "lane:99" }]',
    "a view of no entry": '[[rundown]]\noutput = "hall"\nitem = [{ view = "athlete", who = "entry:x" }]',
    "a view of too many": '[[rundown]]\noutput = "hall"\nitem = [{ view = "athlete", who = "lane:1,lane:2" }]',
    "a view of too few": '[[rundown]]\noutput = "hall"\nitem = [{ view = "duel", who = "lane:1" }]',
}
"""What is added to a sound file, each with something wrong in it."""
RULES = {
    "a plate that is none": ("plates = [25,", "plates = [23,"),
    "a bar that is none": ("bar = 15", "bar = 16"),
    "pieces beyond the cap": ("pieces = 3", "pieces = 9"),
    "a count of lifts on the way": (
        "[event.workout.lifting]",
        '[[event.part]]\nid = "p"\nname = "P"\nmeasure = "reps_at"\nat = "1:00"\n[event.workout.lifting]',
    ),
}
"""What is changed in the file that has every format."""


def all_problems(files: dict[str, str]) -> tuple[Problem, ...]:
    """Give everything that is wrong with a file and its start list, as the competition maker hears of it."""

    def read_bytes(name: str) -> bytes:
        if name not in files:
            raise FileNotFoundError(2, "No such file or directory", name)
        return files[name].encode(errors="surrogateescape")

    with pytest.raises(BadFile) as caught:
        competition_from("file", tomllib.loads(files["saltmarsh.toml"]), read_bytes)
    return tuple(located(caught.value.problems, files["saltmarsh.toml"]))


def untold(problems: Iterable[Problem]) -> list[tuple[str, str]]:
    """Give the parts of problems that some language says as English does, and that are no values out of the file."""
    return [(language, part) for language in LANGUAGES[1:] for each in problems for part in _untold(each, language)]


def _untold(problem: Problem, language: str) -> list[str]:
    said = problem_said(problem, catalogue(language))
    value = re.compile(r'(?s)".*["…]|-?[\d.:T+ -]+|\d+ ms|inf|[\d.]+ kg|places, first, step|series, lane, athlete')
    place = re.compile(r"[\w.\[\]]+(, entry)?")
    return [
        *([problem.path] if said["at"] == problem.path and not place.fullmatch(problem.path) else []),
        *([problem.found] if said["found"] == problem.found and not value.fullmatch(problem.found) else []),
        *([problem.expected] if said["expected"] == problem.expected else []),
    ]


@pytest.mark.parametrize("name", ROWS)
def test_what_is_wrong_in_a_start_list_has_its_words(name: str) -> None:
    """Where it stands, what was found and what is expected: nothing of it is left in English."""
    files = FILES | {LANES: ROWS[name]}
    files["saltmarsh.toml"] = files["saltmarsh.toml"].replace('id = "w1"\n', 'id = "w1"\ncaution = "a loss"\n')
    problems = all_problems(files)
    assert any(LANES in problem.path for problem in problems), problems
    assert untold(problems) == []


@pytest.mark.parametrize("name", TABLES)
def test_what_is_wrong_in_a_table_has_its_words(name: str) -> None:
    """Formulas, colours, files and rundowns: nothing of what is said of them is left in English."""
    text = FILES["saltmarsh.toml"].replace('points = "twenty"', 'points = "p"') if '"p"' in TABLES[name] else ""
    text = (text or FILES["saltmarsh.toml"]) + "\n" + TABLES[name]
    if name == "no start list":
        text = FILES["saltmarsh.toml"].replace(LANES, "none.csv")
    problems = all_problems(FILES | {"saltmarsh.toml": text})
    assert untold(problems) == []


@pytest.mark.parametrize("name", RULES)
def test_what_is_wrong_in_the_rules_of_a_format_has_its_words(name: str) -> None:
    """Equipment, pieces and measures: nothing of what is said of them is left in English."""
    text = (SCENARIOS / "estuary.toml").read_text(encoding="utf-8")
    problems = all_problems({"saltmarsh.toml": text.replace(*RULES[name])})
    assert untold(problems) == []


def test_rows_that_disagree_are_told_with_both_places() -> None:
    """The row, what it says, and which other row says otherwise."""
    [problem] = [each for each in all_problems(FILES | {LANES: ROWS["rows that disagree"]}) if "say" in each.path]
    assert str(problem) == f'{LANES} line 3, say: found "AN-na", expected "AH-na", as {LANES} line 2 has it'
    assert problem_said(problem, catalogue("es")) == {
        "at": f"{LANES}, línea 3, say",
        "found": '"AN-na"',
        "expected": f'"AH-na", como en {LANES}, línea 2',
    }


def test_required_is_empty_and_names_are_joined_by_commas() -> None:
    """A field that may hold any value asks for nothing else; the last name of a choice has no English before it."""
    assert problem_said(Problem("name", "nothing", REQUIRED), catalogue("es")) == {
        "at": "name",
        "found": "nada",
        "expected": "",
    }
    chosen = problem_said(Problem("size", '"x"', "'1920x1080', '1080x1920' or '3840x2160'"), catalogue("fr"))
    assert chosen == {"at": "size", "found": '"x"', "expected": "l’un de '1920x1080', '1080x1920', '3840x2160'"}


def test_every_form_has_its_text_and_its_values() -> None:
    """Each form has a text, with no other values than those that it reads; English says again what the check said."""
    texts = catalogue("en").texts
    assert {key for key in texts if key.startswith("problem.")} == {
        *(f"problem.found.{key}" for key in FOUND),
        *(f"problem.expected.{key}" for key in EXPECTED),
        *(f"problem.at.{key}" for key in AT),
    }
    for part, forms in (("found", FOUND), ("expected", EXPECTED), ("at", AT)):
        for key, form in forms.items():
            assert set(re.compile(form).groupindex) >= set(
                re.findall(r"\{(\w+)\}", str(texts[f"problem.{part}.{key}"]))
            )
