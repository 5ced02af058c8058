"""The language of a page: that of its address, its output or the competition; spectators have one address for each."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from core.samples import competition
from tallywire.core.model.outputs import Output
from tallywire.web.wrong_address import fault, language_of
from tallywire.wire.catalogue import LANGUAGES, catalogue
from web.site import site

FRENCH = replace(
    competition(),
    language="fr",
    outputs={"world": Output(id="world", name="World feed"), "gulf": Output(id="gulf", name="Gulf", language="ar")},
)


@pytest.mark.parametrize(
    ("path", "query", "expected"),
    [
        ("/board/", {}, "fr"),
        ("/board/", {"lang": "ja"}, "ja"),
        ("/air/", {"output": "world"}, "fr"),
        ("/air/", {"output": "gulf"}, "ar"),
        ("/air/", {"output": "gulf", "lang": "en"}, "en"),
        ("/desk/", {"output": "gulf"}, "fr"),
    ],
)
def test_the_nearest_choice_wins(path: str, query: dict[str, str], expected: str) -> None:
    """The address, else its output's language, else the competition's; the desk speaks as its crew does."""
    assert language_of(path, query, FRENCH) == expected


def test_an_unknown_language_is_a_wrong_address() -> None:
    """Whoever opens one is told which there are."""
    found = fault("/board/", {"lang": "tlh"}, competition(), catalogue("en"))
    assert found is not None
    assert "tlh" in found[0]
    assert all(each in found[1] for each in LANGUAGES)


def test_pages_come_in_their_language_with_its_words() -> None:
    """The page says its language and direction, and the script of its words is the catalogue's."""
    with site() as server:
        page = server.client.get("/gaps/?lang=ar").text
        words = server.client.get("/languages/ar.js")
        none = server.client.get("/languages/xx.js")
    assert '<html lang="ar" dir="rtl">' in page
    assert '<script src="../languages/ar.js"></script>' in page
    assert catalogue("ar").say("shared.connecting") in words.text
    assert words.headers["content-type"].startswith("text/javascript")
    assert none.status_code == 404


def test_a_page_that_is_there_already_is_not_sent_again() -> None:
    """RFC 9110 §15.4.5: 304 for the same page in the same language, and the whole page in another."""
    with site() as server:
        tag = server.client.get("/gaps/").headers["etag"]
        again = server.client.get("/gaps/", headers={"If-None-Match": tag})
        other = server.client.get("/gaps/?lang=es", headers={"If-None-Match": tag})
    assert (again.status_code, other.status_code) == (304, 200)


@pytest.mark.parametrize("language", LANGUAGES)
def test_spectators_have_a_page_in_each_language(language: str) -> None:
    """Below its own address the page is in the language, and every file that it names is there."""
    with site() as server:
        page = server.client.get(f"/public/{language}/").text
        named = re.findall(r'"\.\./(at/[^"]+)"', page)
        found = {path: server.client.get(f"/public/{path}").status_code for path in named}
    assert f'lang="{language}"' in page
    assert set(found.values()) == {200}
    assert any(path.endswith(f"languages/{language}.js") for path in named)


def test_the_organiser_may_keep_spectators_to_one_language() -> None:
    """With `spectators_choose = false` the page offers none, so its first script stays; else it offers all."""
    for choose, offered in ((True, " ".join(LANGUAGES)), (False, "")):
        with site(called=replace(competition(), spectators_choose=choose)) as server:
            assert f'data-languages="{offered}"' in server.client.get("/public/").text
