"""Every role by every message and path: docs/security.md has the table, and each of its cells is tried here."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any

import pytest
from starlette.routing import Mount, Route

from core.floors import floors_apart
from shell.stage import call_all, two_heats
from tallywire.core.facts import FACT_TYPES, wire_name
from tallywire.core.model.outputs import rundown_digest
from tallywire.shell.links import Wish
from tallywire.shell.read_model import VIEW_NAMES
from tallywire.wire.fact_lines import BY_NAME
from tallywire.wire.roles import ROLES
from web.site import Site, Talk, site

PAGE = (Path(__file__).parents[2] / "docs" / "security.md").read_text(encoding="utf-8")
YES, NO = "yes", "–"
ELSEWHERE = "a count on another floor than the link's own"
"""The row that needs floors: its link is for the floor `east`, and its count for lane 1 of a heat called on `west`."""
EAST, WEST = "east", "westh1"


def _table() -> dict[str, dict[str, str]]:
    """The cells of the table, by row and role."""
    section = PAGE.partition("### Every role by every message and path")[2]
    lines = re.findall(r"(?:^\|.*\n)+", section, re.MULTILINE)[0]
    head, _, *rows = [
        [cell.strip().strip("`") for cell in line.strip("| \n").split("|")] for line in lines.splitlines()
    ]
    return {row[0]: dict(zip(head[1:], row[1:], strict=True)) for row in rows}


TABLE = _table()
COLUMNS = list(next(iter(TABLE.values())))
FACT_ROWS = [row for row in TABLE if row in BY_NAME]
VALUES: dict[str, Any] = {
    "recalls": "somebody.9",
    "unix_ms": 1_800_000_000_000,
    "scored_reps": 3,
    "reason": "sheet",
    "load_milli": 60_000,
    "member": 1,
    "points": 1,
    "by": "Head Judge",
    "digest": "0" * 16,
    "upheld": False,
    "output": "world",
    "view": "heat",
    "params": {},
    "delay_ms": 0,
    "automatic": "off",
    "edit": 1,
    "before": rundown_digest(()),
    "line": 1,
    "gone": 0,
    "added": [],
    "text": "second wind",
    "spotter": "Ada",
    "item": "somebody.9",
    "mark": "pinned",
}
"""A value for every field that a fact must have."""


def test_the_table_has_every_fact_view_role_and_path() -> None:
    """No kind of fact, no view, no role and no route is missing, and every cell says yes or no."""
    assert [wire_name(kind) for kind in FACT_TYPES] == FACT_ROWS
    assert [row.split()[1] for row in TABLE if row.startswith("watch ")] == list(VIEW_NAMES)
    assert ["viewer", *ROLES, "owner"] == COLUMNS
    with site() as server:
        mounted = next(each for each in server.client.app.routes if isinstance(each, Mount))  # type: ignore[attr-defined]
        routes = [each for each in mounted.app.routes if isinstance(each, Route)]  # type: ignore[attr-defined]
    found = {f"{method} {each.path}" for each in routes for method in (each.methods or set()) - {"HEAD"}}
    paths = {row.split("?")[0] for row in TABLE if row.startswith(("GET ", "POST "))}
    views = {f"GET /snapshot/{view}" for view in VIEW_NAMES}
    guarded = {f"GET /v1/heats/{{heat}}/{view}/frame.json" for view in ("table", "subjects")}
    assert paths - views - guarded - {"GET /pad/"} == found - {"GET /snapshot/{view}"}
    assert views <= paths
    assert {cell for cells in TABLE.values() for cell in cells.values()} == {YES, NO}


class Asker:
    """Somebody with the link of a role, or without one."""

    def __init__(self, server: Site, column: str, stack: ExitStack, *, floor: str = "") -> None:
        self.server = server
        self.column = column
        self.role = ROLES.get(column)
        self.lane = 1 if self.role is not None and self.role.lane == "always" else None
        self.floor = floor if self.role is not None and (self.lane or column == "machine") else ""
        self.sender = "" if self.role is None else f"{self.role.opening(self.lane, self.floor)}a"
        links = server.live.crew.links
        self.key = ""
        if column == "owner":
            self.key = links.owner_key()
        elif self.role is not None:
            self.key = links.issue([Wish(role=column, lane=self.lane, floor=self.floor)])[0].key
        self.sequence = 0
        self._stack = stack
        self._talk: Talk | None = None

    @property
    def talk(self) -> Talk:
        """The connection, opened with its hello."""
        if self._talk is None:
            self._talk = self._stack.enter_context(self.server.wire(self._hello()))
            assert self._talk.hear()["type"] == "welcome"
        return self._talk

    def _hello(self) -> dict[str, Any]:
        said: dict[str, Any] = {"type": "hello", "role": self.column}
        if self.role is None:
            return said
        said |= {"key": self.key} | ({"lane": self.lane} if self.lane else {})
        said |= {"floor": self.floor} if self.floor else {}
        return said | ({"sender": self.sender} if self.role.sends else {})

    def answer(self, message: dict[str, Any]) -> dict[str, Any]:
        """What is said to a message."""
        self.talk.say(message)
        return self.talk.hear()

    def send(self, kind: str, **more: Any) -> bool:
        """Send a fact; true when it is taken."""
        self.sequence += 1
        own = {"id": f"{self.column}.{self.sequence}", "sender": self.sender or "x", "sequence": self.sequence}
        must = [each.name for each in fields(BY_NAME[kind]) if each.default is MISSING]
        fact = {name: VALUES[name] for name in must if name in VALUES}
        lane = {"lane": 1} if any(each.name == "lane" for each in fields(BY_NAME[kind])) else {}
        fact = {"fact": kind, "heat": "heat", "at_ms": 1, **lane, **fact, **own, **more}
        answer = self.answer({"type": "facts", "facts": [fact]})
        while answer["type"] not in ("acknowledged", "error"):
            answer = self.talk.hear()
        return answer["type"] == "acknowledged" and not answer["refused"]

    def _batch(self) -> dict[str, Any]:
        """A count of a machine under a name of its own."""
        fact = {"fact": "rep_counted", "id": "m.1", "heat": "heat", "lane": 1, "at_ms": 1}
        return {"sender": "machine-b", "facts": [{**fact, "sender": "machine-b", "sequence": 1}]}

    def ask(self, method: str, path: str) -> bool:
        """Ask over HTTP; true when the answer is no refusal."""
        server = self.server
        table = server.live.crew.links
        target = table.issue([Wish(role="display")])[0]
        path = path.replace("{link}", target.link.id).replace("{heat}", "heat").replace("{view}", "heat")
        # A stream has no end; whether it may be had is said before it begins.
        method = "HEAD" if path.endswith(".events") else method
        bodies = {
            "/links": {"links": [{"role": "display"}]},
            "/links/code": {"code": target.code},
            "/facts": self._batch(),
        }
        headers = {"Authorization": f"Bearer {self.key}"} if self.key else {}
        body = bodies.get(path, {}) if method == "POST" else None
        status = server.client.request(method, path, headers=headers, json=body).status_code
        # 404: this competition has no face, no logo and no segment of that name, which it says to everyone.
        assert status in (200, 401, 404)
        return status != 401


def _tried(asker: Asker, row: str) -> bool:
    """Try one row of the table as somebody; true when it was allowed."""
    if row.startswith(("GET ", "POST ")):
        return asker.ask(*row.split(" ", 1))
    if row == "unwatch":
        asker.talk.say({"type": "unwatch", "view": "heat", "heat": "heat"})
        return str(asker.answer({"type": "ping", "t1": 2})["type"]) == "pong"
    if row == "ping":
        return str(asker.answer({"type": "ping", "t1": 1})["type"]) == "pong"
    if row == "status":
        asker.talk.say({"type": "status", "waiting": 0})
        return str(asker.answer({"type": "ping", "t1": 3})["type"]) == "pong"
    return _facts(asker, row)


def _facts(asker: Asker, row: str) -> bool:
    if row == "fact_voided":
        kind = next((each for each in FACT_ROWS if TABLE[each][asker.column] == YES and each != row), "rep_counted")
        own = asker.send(kind)
        return asker.send(row, voids=f"{asker.column}.{asker.sequence}") and own
    if row == "a fact of another lane":
        return asker.send(_count(asker), lane=2)
    if row == "fact_voided of another sender's fact":
        return asker.send("fact_voided", voids="somebody.1")
    if row == "a count before the heat is called":
        return asker.send(_count(asker), heat="h2")
    return asker.send(row)


def _count(asker: Asker) -> str:
    """A kind of count that the role may send; to those who may send none any is refused."""
    kinds = [each for each in FACT_ROWS if TABLE[each][asker.column] == YES and each.startswith(("rep_", "count_"))]
    return kinds[0] if kinds else "rep_counted"


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site(called=two_heats()) as made:
        yield made


@pytest.mark.parametrize("column", COLUMNS)
def test_each_cell_is_as_the_table_says(server: Site, column: str) -> None:
    """One role tries everything: what the table allows is done, everything else is refused with a reason."""
    with ExitStack() as stack:
        if column != "table":
            _somebody(server, stack)
        asker = Asker(server, column, stack)
        rows = [row for row in TABLE if column != "owner" or row.startswith(("GET ", "POST "))]
        rows = [row for row in rows if row != ELSEWHERE]
        # The signature comes last: after it nobody new may count.
        rows.sort(key=lambda row: row == "heat_signed")
        # Views are watched by themselves: their patches would mix with other answers.
        found = {row: _tried(asker, row) for row in rows if not row.startswith("watch ")}
        for row in [each for each in rows if each.startswith("watch ")]:
            found[row] = _watched(server, column, asker, row)
    assert {row: YES if found[row] else NO for row in rows} == {row: TABLE[row][column] for row in rows}


@pytest.mark.parametrize("column", [name for name in COLUMNS if name != "owner"])
def test_a_link_of_one_floor_counts_there_alone(column: str) -> None:
    """The row of the table that needs two floors; what is refused is counted in the link's own heat all the same."""
    with site(called=floors_apart(2)) as server, ExitStack() as stack:
        call_all(server.live.books, [WEST])
        asker = Asker(server, column, stack, floor=EAST)
        assert (YES if asker.send(_count(asker), heat=WEST) else NO) == TABLE[ELSEWHERE][column]
        own = TABLE["rep_counted"][column]
        assert (YES if asker.send("rep_counted", heat="easth1") else NO) == own


def _watched(server: Site, column: str, asker: Asker, row: str) -> bool:
    hello = asker._hello()
    with server.wire(hello | ({"sender": f"{asker.sender}w"} if "sender" in hello else {})) as talk:
        assert talk.hear()["type"] == "welcome", column
        talk.say({"type": "watch", "view": row.split()[1], "heat": "heat"})
        return str(talk.hear()["type"]) == "snapshot"


def _somebody(server: Site, stack: ExitStack) -> None:
    """The table disqualifies the entry on lane 1: that is what another's link is not to take back."""
    table = Asker(server, "table", stack)
    assert table.send("disqualified", id="somebody.1")


@pytest.mark.parametrize("column", [name for name in COLUMNS if name not in ("viewer", "owner")])
def test_no_role_opens_without_its_own_link(server: Site, column: str) -> None:
    """Without a key, and with the key of every other role, a hello is refused and the connection ends."""
    with ExitStack() as stack:
        asker = Asker(server, column, stack)
        others = {name: Asker(server, name, stack).key for name in COLUMNS if name not in ("viewer", column)}
        for key in [None, "", *others.values()]:
            hello = asker._hello() | {"key": key}
            with server.wire({name: value for name, value in hello.items() if value is not None}) as talk:
                assert talk.hear()["code"] == "not_allowed"
