"""What is wrong with a competition file, in every language: no problem that a page shows has English words alone."""

from __future__ import annotations

import random
import re
import tomllib
from pathlib import Path

import pytest

from cli.test_check_all_at_once import FILES, PLANTS
from tallywire.core.errors import BadFile, Problem
from tallywire.wire.catalogue import LANGUAGES, catalogue
from tallywire.wire.competition_file import competition_from
from tallywire.wire.problem_words import EXPECTED, FOUND, problem_said
from tallywire.wire.problems import REQUIRED

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


def test_required_is_empty_and_names_are_joined_by_commas() -> None:
    """A field that may hold any value asks for nothing else; the last name of a choice has no English before it."""
    assert problem_said(Problem("name", "nothing", REQUIRED), catalogue("es")) == {"found": "nada", "expected": ""}
    chosen = problem_said(Problem("size", '"x"', "'1920x1080', '1080x1920' or '3840x2160'"), catalogue("fr"))
    assert chosen == {"found": '"x"', "expected": "l’un de '1920x1080', '1080x1920', '3840x2160'"}


def test_every_form_has_its_text_and_its_values() -> None:
    """Each form has a text, with no other values than those that it reads; English says again what the check said."""
    texts = catalogue("en").texts
    assert {key for key in texts if key.startswith("problem.")} == {
        *(f"problem.found.{key}" for key in FOUND),
        *(f"problem.expected.{key}" for key in EXPECTED),
    }
    for part, forms in (("found", FOUND), ("expected", EXPECTED)):
        for key, form in forms.items():
            assert set(re.compile(form).groupindex) >= set(
                re.findall(r"\{(\w+)\}", str(texts[f"problem.{part}.{key}"]))
            )
