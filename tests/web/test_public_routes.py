"""The routes of the public: what caches may do with each answer, and that no answer depends on who asks."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tallywire.shell.files import assets
from tallywire.web.modules import without_comments
from tallywire.web.public_routes import FILE_CACHE, NEWEST_CACHE, PAGE_CACHE, SEGMENT_CACHE
from web.site import Site, site

COMPILER = Path(__file__).parents[1] / "overlay" / "node_modules" / "typescript"
_BARE = """
const ts = require(process.argv[1]);
const fs = require("fs");
for (const text of JSON.parse(fs.readFileSync(0, "utf8"))) {
  const options = { compilerOptions: { removeComments: true, target: "esnext", module: "esnext" } };
  console.log(JSON.stringify(ts.transpileModule(text, options).outputText));
}
"""


@pytest.fixture(name="server", scope="module")
def _server() -> Iterator[Site]:
    with site() as made:
        yield made


def files(server: Site) -> list[str]:
    """The files that the page names, and those that its modules import."""
    return ["/public/" + path for path in re.findall(r'"(at/[^"]+)"', server.client.get("/public/").text)]


def test_each_answer_says_how_long_it_is_good(server: Site) -> None:
    """RFC 9111 §5.2, RFC 5861 and RFC 8246: the list for a second, a segment and the page's files for good."""
    newest = server.client.get("/public/newest")
    segment = server.client.get(f"/public/segments/{newest.json()['segment']}")
    page, file = server.client.get("/public/"), server.client.get(files(server)[0])
    found = [each.headers["cache-control"] for each in (newest, segment, page, file)]
    assert found == [NEWEST_CACHE, SEGMENT_CACHE, PAGE_CACHE, FILE_CACHE]
    assert "s-maxage=1," in NEWEST_CACHE
    assert "stale-while-revalidate" in NEWEST_CACHE
    assert all("public" in each for each in found)
    assert all("immutable" in each for each in (SEGMENT_CACHE, FILE_CACHE))
    assert segment.json().keys() >= {"heat", "lanes", "ranking", "mode", "speed"}


def test_who_has_it_already_is_told_so(server: Site) -> None:
    """RFC 9110 §15.4.5: 304 without content, with the same headers for caching."""
    first = server.client.get("/public/newest")
    again = server.client.get("/public/newest", headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["cache-control"] == NEWEST_CACHE
    assert again.headers["etag"] == first.headers["etag"]


def test_answers_are_compressed_for_those_who_can_read_that(server: Site) -> None:
    """RFC 9110 §12.5.5: the answer says that it varies by Accept-Encoding."""
    name = server.client.get("/public/newest").json()["segment"]
    sizes = {}
    for coding in ("gzip", "identity"):
        answer = server.client.get(f"/public/segments/{name}", headers={"Accept-Encoding": coding})
        assert answer.headers["vary"] == "Accept-Encoding"
        assert answer.headers.get("content-encoding", "identity") == coding
        sizes[coding] = int(answer.headers["content-length"])
    assert sizes["gzip"] < sizes["identity"] / 3


@pytest.mark.parametrize("path", ["segments/1-0123456789abcdef", "segments/newest", "at/0000/shared/dom.js"])
def test_what_is_not_there_is_not_kept(server: Site, path: str) -> None:
    """A cache must not keep a 404: another server may have it in a moment."""
    answer = server.client.get(f"/public/{path}")
    assert (answer.status_code, answer.headers["cache-control"]) == (404, "no-store")


def test_no_answer_depends_on_who_asks(server: Site) -> None:
    """Keys, cookies and queries change nothing, and nothing is set."""
    plain = server.client.get("/public/newest")
    asked = {"Authorization": f"Bearer {server.keys.table}", "Cookie": "a=b", "Referer": "http://elsewhere/"}
    known = server.client.get("/public/newest?who=me", headers=asked)
    assert known.content == plain.content
    assert "set-cookie" not in known.headers


def test_every_file_of_the_page_is_there(server: Site) -> None:
    """What the page names, and what its script imports: that is named too, so none waits for another."""
    named = files(server)
    imported = set()
    for path in named:
        answer = server.client.get(path)
        assert answer.status_code == 200, path
        if path.endswith(".js"):
            folder = path.rpartition("/")[0]
            found = re.findall(r'^import .* from "\./([^"]+)";', answer.text, re.MULTILINE)
            imported |= {f"{folder}/{each}" for each in found}
    assert [path.rpartition("/")[2] for path in imported] == ["early.js"]
    assert imported <= set(named)
    assert len(named) <= 8


def test_only_comments_are_left_out() -> None:
    """A module without its lines of comments is the same program. Source: the TypeScript compiler."""
    texts = [path.read_text(encoding="utf-8") for path in assets("overlay").rglob("*.js")]
    short = [without_comments(text) for text in texts]
    assert sum(map(len, short)) < 0.8 * sum(map(len, texts))
    assert [text.count("\n") for text in short] == [text.count("\n") for text in texts]
    assert compiled(texts) == compiled(short)


def compiled(texts: list[str]) -> list[str]:
    """Give modules as the compiler writes them, without comments and empty lines."""
    said = subprocess.run(
        ["node", "-e", _BARE, str(COMPILER)], input=json.dumps(texts), capture_output=True, text=True, check=True
    )
    return [re.sub(r"\n\s*\n", "\n", json.loads(line)) for line in said.stdout.splitlines()]
