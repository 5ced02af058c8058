"""What the crew's documents quote from the pages, in italics, is what the pages say in English today."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tallywire.wire.catalogue import Text, catalogue

DOCS = Path(__file__).parents[2] / "docs"
PAGES = ("venue.md", "tour.md", "graphics.md", "call.md")
_QUOTED = re.compile(r"(?<![*\w])\*([^*\n|]*[A-Za-z][^*\n|]*)\*(?![*\w])")
_BLOCK = re.compile(r"```.*?```", re.DOTALL)
ELSEWHERE = {
    "at the same point of the work": "stressed, not quoted",
    "the call": "the server prints it",
    "the call, with the booth": "the server prints it",
    "On East hall": "the beginning of a heat in a list",
    "On West hall": "the beginning of a heat in a list",
    "lane pad 4, East hall": "stands on a slip, in the words of the role",
}


def quoted(page: str) -> set[str]:
    """Give what a document has in italics, outside of blocks of code."""
    return set(_QUOTED.findall(_BLOCK.sub("", page)))


def _forms(text: Text) -> list[str]:
    return [text] if isinstance(text, str) else list(text.values())


def _pattern(form: str) -> re.Pattern[str]:
    """A text with any one word for each of its values."""
    return re.compile(r"\S+".join(map(re.escape, re.split(r"\{\w+\}", form))), re.IGNORECASE)


def unsaid(phrases: set[str]) -> set[str]:
    """Give the phrases that are no English text of the pages, with its values filled in, and no part of one."""
    said = [form for text in catalogue("en").texts.values() for form in _forms(text)]
    whole = [_pattern(form) for form in said if re.search(r"[A-Za-z]{3}", re.sub(r"\{\w+\}", "", form))]
    return {
        each
        for each in phrases
        if not any(form.fullmatch(each) for form in whole)
        and not any(re.search(rf"\b{re.escape(each)}\b", form, re.IGNORECASE) for form in said)
    }


@pytest.mark.parametrize("page", PAGES)
def test_what_is_quoted_is_said(page: str) -> None:
    """Buttons, heads and messages have the names that they have on the pages."""
    phrases = quoted((DOCS / page).read_text(encoding="utf-8"))
    assert phrases
    assert unsaid(phrases) - ELSEWHERE.keys() == set()


def test_a_button_of_another_name_is_found() -> None:
    """A text with a value filled in and a part of a message are known; the name of no button is not."""
    page = "Press *Take 3 rows* or *Count by keys*; **bold** says *do not mention*, and *Sign this heat now*."
    assert quoted(page) == {"Take 3 rows", "Count by keys", "do not mention", "Sign this heat now"}
    assert unsaid(quoted(page)) == {"Sign this heat now"}
