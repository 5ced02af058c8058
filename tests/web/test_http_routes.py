"""The routes that answer once, and the pages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import orjson
import pytest

from core.samples import Pad
from tallywire.wire.recording import read_recording
from web.site import WATCH, Site, site
from wire.talk import changed, facts, hello


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site() as made:
        yield made


def test_health_says_what_there_is(server: Site) -> None:
    """Status, mode, lines in the journal, clients, the heat on the floor, the competition and its outputs."""
    with server.wire(hello("lane-1-a"), facts(Pad("lane-1-a", 1).reps(1))) as talk:
        talk.hear_until("acknowledged")
        assert server.client.get("/health").json() == {
            "status": "ok",
            "mode": "live",
            "journal": {"lines": 1},
            "clients": 1,
            "heat": "heat",
            "competition": "Test Trials",
            "outputs": ["world"],
        }


@pytest.mark.parametrize("view", ["heat", "gaps"])
def test_a_snapshot_is_what_a_watcher_gets(server: Site, view: str) -> None:
    """The frame, its number and epoch are those of the wire."""
    with server.wire({**WATCH, "view": view, "heat": "heat"}) as talk:
        watched = talk.hear()
    assert server.client.get(f"/snapshot/{view}?heat=heat").json() == watched


def test_a_snapshot_of_the_call_comes_full(server: Site) -> None:
    """Someone who asks once, with nobody watching, gets what takes long as well: the overall standing."""
    frame = server.client.get("/snapshot/call").json()["frame"]
    assert frame["overall"]["women"]["rows"]


def test_a_call_is_asked_for_in_a_language(server: Site) -> None:
    """`?lang=` names the language of the cues, also where none has come up; one that there is not is refused."""
    asked = [server.client.get(f"/snapshot/call?lang={each}") for each in ("fr", "en", "tlh")]
    assert [each.status_code for each in asked] == [200, 200, 404]
    assert [each.json()["view"] for each in asked[:2]] == ["call", "call"]
    assert asked[2].json()["path"] == "lang"
    # A view without cues is the same in every language: not a second feed of it.
    plain, french = (server.client.get(f"/snapshot/heat{query}").json() for query in ("", "?lang=fr"))
    assert plain["epoch"] == french["epoch"]


@pytest.mark.parametrize(("key", "status"), [(None, 401), ("wrong", 401), ("key-1", 200), ("table-key", 200)])
def test_the_tables_snapshot_needs_a_key(server: Site, key: str | None, status: int) -> None:
    """It holds lanes on medical hold: only a key of the table or of a lane opens it."""
    response = server.client.get("/snapshot/table", headers={"Authorization": f"Bearer {key}"} if key else {})
    assert response.status_code == status
    assert ("WWW-Authenticate" in response.headers) == (status == 401)


@pytest.mark.parametrize("path", ["/snapshot/weather", "/snapshot/heat?heat=none"])
def test_a_snapshot_of_nothing_is_not_found(server: Site, path: str) -> None:
    """An unknown view or heat is 404 with what there is."""
    response = server.client.get(path)
    assert response.status_code == 404
    assert "expected" in response.json()["message"]


def test_the_recording_is_the_journal(server: Site) -> None:
    """With the table's key the journal comes out as a recording: accepted facts read back, refused ones say so."""
    pad = Pad("lane-1-a", 1)
    sent = [pad.reps(1), changed(pad.reps(2), lane=2), pad.no_rep(3)]
    with server.wire(hello("lane-1-a"), facts(*sent)) as talk:
        talk.hear_until("acknowledged")
    response = server.client.get("/recording", headers={"Authorization": "Bearer table-key"})
    assert read_recording("recording", response.content) == [sent[0], sent[2]]
    assert [orjson.loads(line).get("refused", {}).get("code") for line in response.content.splitlines()] == [
        None,
        "not_allowed",
        None,
    ]


@pytest.mark.parametrize("authorization", [None, "Bearer key-1", "Bearer ", "Basic table-key", "table-key"])
def test_the_recording_needs_the_tables_key(server: Site, authorization: str | None) -> None:
    """Without it the answer is 401 with the scheme that is expected."""
    response = server.client.get("/recording", headers={"Authorization": authorization} if authorization else {})
    assert response.status_code == 401
    assert response.headers["WWW-Authenticate"] == "Bearer"


def test_a_key_in_the_query_opens_nothing(server: Site) -> None:
    """A key never travels in a URL: there it is not looked for."""
    assert server.client.get("/recording?key=table-key").status_code == 401


@pytest.fixture(name="pages")
def _pages(tmp_path: Path) -> Path:
    folder = tmp_path / "overlay"
    (folder / "air").mkdir(parents=True)
    (folder / "shared").mkdir()
    (folder / "air" / "index.html").write_text("<!doctype html><title>On &amp; air</title>")
    for name in ("a.js", "a.css", "a.svg", "a.woff2"):
        (folder / "shared" / name).write_text("x")
    (tmp_path / "secret.txt").write_text("secret")
    return folder


def test_the_bare_address_leads_to_the_home_page(server: Site) -> None:
    """`/` leads to the page of the crew; a browser takes the key in the fragment along (RFC 9110 §10.2.2)."""
    assert server.client.get("/", follow_redirects=False).headers["location"] == "/home/"
    assert "<title>Home</title>" in server.client.get("/").text


@pytest.mark.parametrize(
    ("address", "wrong"),
    [
        ("/pad/", "It names no lane. This competition has lanes 1, 2, 3."),
        ("/pad/?lane=abc", "It names lane &quot;abc&quot;."),
        ("/pad/?lane=0", "It names lane &quot;0&quot;."),
        ("/pad/?lane=4", "This competition has lanes 1, 2, 3."),
        ("/pad/?lane=", "It names lane &quot;&quot;."),
        ("/pad/?lane=1&heat=none", "It names heat &quot;none&quot;"),
        ("/board/?heat=%3Cb%3E", "It names heat &quot;&lt;b&gt;&quot;"),
        ("/air/?output=moon", "It names output &quot;moon&quot;, which this competition does not have."),
        ("/air/?view=moon", "It names view &quot;moon&quot;, which there is not."),
        ("/air/?view=../air", "It names view &quot;../air&quot;, which there is not."),
        ("/padd/", "There is no page &quot;/padd/&quot; on this server."),
        ("/padd", "There is no page &quot;/padd&quot; on this server."),
        ("/pad/?lane=" + "9" * 5000, "It names lane"),
    ],
)
def test_a_wrong_address_says_what_is_wrong(server: Site, address: str, wrong: str) -> None:
    """A lane, heat, output or page that does not exist gives 404 and a page with what there is and the way home."""
    response = server.client.get(address)
    assert response.status_code == 404
    assert wrong in response.text
    assert 'href="/home/"' in response.text
    assert len(response.text) < 1500


@pytest.mark.parametrize(
    "address",
    ["/pad/?lane=1", "/pad/?lane=3&heat=heat", "/board/?heat=floor", "/air/?output=world", "/air/?view=runin"],
)
def test_a_right_address_gives_its_page(server: Site, address: str) -> None:
    """Lanes, heats and outputs that there are open their page."""
    assert server.client.get(address).status_code == 200


def test_a_folder_stands_for_its_page(pages: Path) -> None:
    """`/air/` gives the page, `/air` leads there, and what is not there is 404."""
    with site(pages=pages) as server:
        assert "On &amp; air" in server.client.get("/air/").text
        assert server.client.get("/air", follow_redirects=False).headers["location"].endswith("/air/")
        assert server.client.get("/none/").status_code == 404


@pytest.mark.parametrize(
    ("name", "kind"),
    [("a.js", "text/javascript"), ("a.css", "text/css"), ("a.svg", "image/svg+xml"), ("a.woff2", "font/woff2")],
)
def test_files_have_their_types(pages: Path, name: str, kind: str) -> None:
    """A browser gets the media type it insists on, whatever the machine's own table says."""
    with site(pages=pages) as server:
        assert server.client.get(f"/shared/{name}").headers["content-type"].split(";")[0] == kind


def test_a_file_comes_compressed_and_once(pages: Path) -> None:
    """Who can read gzip gets it (RFC 9110 §8.4), a typeface is packed already, and who has a file is told so."""
    text = "export const A = 1;\n" * 100
    (pages / "shared" / "a.js").write_text(text)
    with site(pages=pages) as server:
        found = server.client.get("/shared/a.js", headers={"Accept-Encoding": "gzip"})
        assert (found.headers["content-encoding"], found.text) == ("gzip", text)
        assert int(found.headers["content-length"]) < len(text) / 5
        assert "content-encoding" not in server.client.get("/shared/a.js", headers={"Accept-Encoding": ""}).headers
        assert "content-encoding" not in server.client.get("/shared/a.woff2").headers
        again = server.client.get("/shared/a.js", headers={"If-None-Match": found.headers["etag"]})
        assert (again.status_code, again.content) == (304, b"")
        assert server.client.post("/shared/a.js").status_code == 405


def test_a_page_has_one_sheet_of_all_that_it_links_in_a_row(pages: Path) -> None:
    """They keep their order, what they name is found from the page's folder, and a theme's sheet still comes last."""
    links = ["../shared/a.css", "air.css", "../theme/sheet.css"]
    row = "\n".join(f'<link rel="stylesheet" href="{each}" />' for each in links)
    (pages / "air" / "index.html").write_text(row)
    (pages / "shared" / "a.css").write_text('b { src: url("faces/b.woff2"); }\n')
    (pages / "air" / "air.css").write_text("b { top: 0; }\n")
    with site(pages=pages) as server:
        page = server.client.get("/air/").text
        assert re.findall('href="([^"]+)"', page) == ["./whole.css", "../theme/sheet.css"]
        whole = server.client.get("/air/whole.css").text
        assert whole == 'b { src: url("../shared/faces/b.woff2"); }\nb { top: 0; }\n'


def test_the_worker_is_told_what_to_keep_and_is_the_one_of_the_pages(pages: Path) -> None:
    """What it is to keep stands before its own text; another page makes it another worker."""
    (pages / "worker.js").write_text("keep();\n")
    with site(pages=pages) as server:
        first = server.client.get("/worker.js").text
    (pages / "shared" / "a.js").write_text("other();\n")
    with site(pages=pages) as server:
        second = server.client.get("/worker.js").text
    for text in (first, second):
        assert re.fullmatch(r"globalThis\.PAGES = \{.*\};\nkeep\(\);\n", text)
    assert first != second


@pytest.mark.parametrize("path", ["/../secret.txt", "/..%2fsecret.txt", "/shared/..%2f..%2fsecret.txt", "//etc/passwd"])
def test_nothing_outside_the_pages_is_served(pages: Path, path: str) -> None:
    """However a path is written, it does not lead out of the folder."""
    with site(pages=pages) as server:
        response = server.client.get(path)
    assert response.status_code == 404
    assert "secret" not in response.text


@pytest.mark.parametrize("path", ["/", "/air/", "/shared/a.js", "/health", "/none"])
def test_every_answer_has_the_safe_headers(pages: Path, path: str) -> None:
    """Nothing inline, nothing from elsewhere, nothing cached unasked, no type guessing, no referrer."""
    with site(pages=pages) as server:
        headers = server.client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'self'" in policy
    assert "connect-src 'self' ws://testserver wss://testserver" in policy
    assert headers["cache-control"] == "no-cache"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_a_strange_host_does_not_get_into_the_policy(server: Site) -> None:
    """A Host header that is no host name adds nothing to the policy."""
    policy = server.client.get("/", headers={"Host": "x; script-src *"}).headers["content-security-policy"]
    assert "script-src" not in policy
    assert "ws:" not in policy


def test_the_shipped_pages_are_there(server: Site) -> None:
    """Without a folder of its own the server serves the pages it ships with."""
    assert server.client.get("/shared/socket.js").status_code == 200
