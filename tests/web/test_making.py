"""The maker's page before there is a competition: in the language of its address, else in the browser's."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from tallywire.shell.keys import make_keys
from tallywire.shell.links import Links
from tallywire.shell.workbench import Workbench
from tallywire.web.admission import Admission
from tallywire.web.bounds import Bounds
from tallywire.web.making import accepted, maker_app
from tallywire.web.settings import Settings
from tallywire.wire.catalogue import catalogue


@pytest.fixture(name="client", scope="module")
def _client(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """The whole application, over a file that is not there yet."""
    folder = tmp_path_factory.mktemp("making")
    links = Links(now_ms=lambda: 1_800_000_000_000)
    links.begin(make_keys([]))
    app = maker_app(links, Workbench(folder / "cove.toml"), None, Settings(data=folder), Admission(Bounds()))
    return TestClient(app, base_url="http://127.0.0.1")


@pytest.mark.parametrize(
    ("query", "liked", "expected"),
    [
        ("?lang=fr", "ja", "fr"),
        ("", "es-MX,es;q=0.9,en;q=0.8", "es"),
        ("", "da, ar;q=0.8, en;q=0.7", "ar"),
        ("?lang=tlh", "ja", "ja"),
        ("?lang=tlh", "da", "en"),
        ("", "", "en"),
    ],
)
def test_the_page_speaks_the_nearest_language_that_there_is(
    client: TestClient, query: str, liked: str, expected: str
) -> None:
    """The address wins over the browser, and what no catalogue has is passed over; English is the last resort."""
    answer = client.get(f"/make/{query}", headers={"Accept-Language": liked})
    assert f'<html lang="{expected}" dir="{catalogue(expected).direction}">' in answer.text
    assert f'<script src="../languages/{expected}.js"></script>' in answer.text
    # RFC 9110 §12.5.5: a cache must not give one reader's language to another.
    assert answer.headers["vary"] == "Accept-Language"


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        # RFC 9110 §12.5.4: "I prefer Danish, but will accept British English and other types of English".
        ("da, en-gb;q=0.8, en;q=0.7", ["da", "en", "en"]),
        # §12.4.2: the weight counts, not the order; a weight of 0 is not acceptable.
        ("en;q=0.3, fr;q=0.001, ja", ["ja", "en", "fr"]),
        ("fr;q=0, es; q=0.5", ["es"]),
        ("*", ["*"]),
        (";q=,,q=9;;", ["", "", "q=9"]),
        ("x" * 100_000, ["x" * 200]),
    ],
)
def test_the_browsers_wishes_are_read_by_their_weight(header: str, expected: list[str]) -> None:
    """The most liked come first; nonsense is neither an error nor a language."""
    assert accepted(header) == expected
