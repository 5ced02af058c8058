"""docs/outlets.md has the columns that there are, and its addresses answer."""

from __future__ import annotations

import asyncio
import re
import sys
from pathlib import Path
from typing import Any

import pytest

from core.samples import Pad, competition
from tallywire.core.outlets.columns import ROW_KINDS, SHARED, Column
from tallywire.shell.books import Change
from tallywire.web.serving import Running, running
from tallywire.web.settings import Settings
from tallywire.wire.push import post_fields, read_push
from web.site import site
from web.test_outlet_events import parsed

PAGE = (Path(__file__).parents[2] / "docs" / "outlets.md").read_text(encoding="utf-8")


def _lines(columns: tuple[Column, ...]) -> str:
    return "".join(f"| `{each.name}` | {each.kind} | {each.says} |\n" for each in columns)


def test_every_column_stands_on_the_page() -> None:
    """Under each heading of views there are exactly the columns of their rows, in order."""
    sections = re.split(r"^### ", PAGE.partition("\n## CSV")[0], flags=re.MULTILINE)[1:]
    tables = {section.split("\n")[0]: "".join(re.findall(r"^\| `.*\n", section, re.MULTILINE)) for section in sections}
    assert tables.pop("In every row") == _lines(SHARED)
    found = {view: table for title, table in tables.items() for view in re.findall(r"`(\w+)`", title.split(":")[0])}
    assert found == {view: _lines(kind.columns[len(SHARED) :]) for view, kind in ROW_KINDS.items()}


def test_every_address_on_the_page_answers() -> None:
    """The addresses at the top of the page are those of the index, and each is there."""
    named = re.findall(r"^    (/v1/\S*)", PAGE, re.MULTILINE)
    with site() as server:
        index = server.client.get("/v1/").json()["addresses"]
        assert named == ["/v1/", *(each.replace("{heat}", "HEAT").replace("{view}", "VIEW") for each in index)]
        for path in named:
            method = "HEAD" if path.endswith("events") else "GET"
            asked = path.replace("HEAT", "floor").replace("VIEW", "heat")
            assert server.client.request(method, asked).status_code == 200


def snippets(language: str) -> list[str]:
    """The pieces of code on the page, in order."""
    return re.findall(rf"^```{language}\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)


VERIFY, PYTHON = snippets("python")
[SCRIPT] = snippets("js")
CLIENTS = {
    "python polls": ("client.py", PYTHON, "rows.json", [sys.executable]),
    "python listens": ("client.py", PYTHON, "rows.events", [sys.executable]),
    "javascript listens": ("client.mjs", SCRIPT, "rows.events", ["node"]),
}


def _count(server: Running, fact: Any) -> None:
    change = Change()
    server.live.books.add(fact, change)
    server.live.show(change, server.live.books.snapshot())


@pytest.mark.parametrize("client", CLIENTS)
async def test_the_clients_on_the_page_follow_a_heat(client: str, tmp_path: Path) -> None:
    """Each client, run as it stands, prints the state at first and after a tap, in at most thirty lines of code.

    The poller and both listeners are programs of their own against a real server.
    """
    name, code, form, command = CLIENTS[client]
    (tmp_path / name).write_text(code, encoding="utf-8")
    async with running(competition(lanes=2), Settings(data=tmp_path / "data", port=0)) as server:
        address = f"{server.address}/v1/heats/floor/heat/{form}"
        program = await asyncio.create_subprocess_exec(
            *command, str(tmp_path / name), address, stdout=asyncio.subprocess.PIPE
        )
        assert program.stdout is not None
        try:
            async with asyncio.timeout(30):
                first = await program.stdout.readline()
                _count(server, Pad("starter").start())
                _count(server, Pad("lane-2-a", 2).reps(1000, n=1))
                said = ""
                while "1 rep" not in said:
                    said = (await program.stdout.readline()).decode()
        finally:
            program.kill()
            await program.communicate()
    assert first.decode().strip() == "1 E1 0 reps | 1 E2 0 reps"
    assert said.strip() == "1 E2 1 rep | 2 E1 0 reps"


def test_the_clients_are_short() -> None:
    """Each client is short enough to be read at a glance."""
    for code in (PYTHON, SCRIPT):
        assert len([line for line in code.splitlines() if line.strip()]) <= 30


def test_the_pages_reader_of_events_reads_as_a_parser_does() -> None:
    """The reader of events on the page agrees with eventsource-parser on the examples of WHATWG HTML 9.2.6."""
    namespace: dict[str, Any] = {"__name__": "client"}
    exec(PYTHON, namespace)  # noqa: S102
    for text in (
        "data: YHOO\ndata: +2\ndata: 10\n\n",
        ": test stream\n\ndata: first event\nid: 1\n\ndata:second event\nid\n\ndata:  third event\n\n",
        "data:test\n\ndata: test\n\n",
        "retry: 1000\n\n: alive\n\nevent: rows\nid: abc\ndata: []\n\ndata: not whole",
    ):
        [found] = parsed(text)
        read = list(namespace["events"](text.splitlines(keepends=True)))
        assert read == [each["data"] for each in found["events"]]


def test_the_pages_verifier_knows_our_pushes() -> None:
    """The function on the page accepts a push, and refuses it with another body, path, number, key or no coverage."""
    namespace: dict[str, Any] = {}
    exec(VERIFY, namespace)  # noqa: S102
    is_ours, key, body = namespace["is_ours"], b"k" * 40, b"[]"
    push = read_push("floor/heat/rows.json", "https://graphics.example/in?a=1")
    sent = post_fields(push, body, number=3, created=1_800_000_000, key=key)
    fields = {name.lower(): value for name, value in sent.items()}
    whole = ("POST", "graphics.example", "/in", "a=1", fields, body, key)
    assert is_ours(*whole)
    changed: dict[int, Any] = {0: "GET", 1: "other.example", 2: "/", 3: "", 5: b"[1]", 6: b"x" * 40}
    changed[4] = fields | {"push-number": "4"}
    for at, value in changed.items():
        assert not is_ours(*(value if n == at else each for n, each in enumerate(whole)))
