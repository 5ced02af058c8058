"""docs/arena/nginx.conf asks the writer whatever an edge cannot answer, because it knows no keys."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
# A regular expression of nginx (its documentation of `location`) goes by the path without the query.
[TO_THE_WRITER] = re.findall(r"location ~ (\S+) \{", (DOCS / "arena" / "nginx.conf").read_text(encoding="utf-8"))
OF_A_VIEWER = {
    path: may == "yes"
    for path, may in re.findall(
        r"^\| `(?:GET|POST) (/[^`?]*)\S*` \| (yes|–) \|", (DOCS / "security.md").read_text(encoding="utf-8"), re.M
    )
}
"""The paths of the role table, and whether somebody without a key is answered."""
ANYWHERE = {path for path, may in OF_A_VIEWER.items() if may} - {"/links/code"}
KEYED = set(OF_A_VIEWER) - ANYWHERE - {"/rehearsal"}
"""What needs the writer: the six letters of a slip too, which it alone knows. An arena plays no rehearsal."""


@pytest.mark.parametrize("path", sorted(KEYED))
def test_what_needs_a_key_is_asked_of_the_writer(path: str) -> None:
    """Every path of the role table that opens with a key alone goes where the keys are known."""
    assert re.search(TO_THE_WRITER, path.format(link="1a2b3c4d", heat="floor"))


@pytest.mark.parametrize("path", sorted(ANYWHERE))
def test_what_anybody_may_read_is_asked_of_the_edges(path: str) -> None:
    """Every other path goes where those who watch go, so that they do not load the writer."""
    asked = path.format(heat="floor", view="heat", floor="east", name="1-ab", language="fr")
    assert not re.search(TO_THE_WRITER, asked)
