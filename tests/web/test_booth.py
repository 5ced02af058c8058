"""The booth over the wire and over HTTP: who sees what is told of a person and what spotters note, view by view."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from typing import Any

import orjson
import pytest

from core.samples import HEAT
from shell.stage import two_heats
from tallywire.cli.results import results_text
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Briefing, Competition
from tallywire.core.reports.results import Choice
from tallywire.shell.read_model import VIEW_NAMES
from tallywire.wire.recording import read_recording
from web.site import Site, site
from web.test_roles import COLUMNS, TABLE, Asker

NOTED, TOLD, HELD = "left-shoe-untied", "quiet-comeback", "told-of-the-held-lane"
"""A note, what the file says of lane 1, and a note about lane 2, which is on medical hold."""
SEES_NOTES = {"commentator", "spotter", "desk", "table", "head"}
SEES_FILE = SEES_NOTES - {"spotter"}
STORY = "GET /story?heat=heat"
"""Where table, head judge and the machine itself read who noted what."""
SEES_RECORD = {"table", "owner"}


def _competition() -> Competition:
    said = Briefing(say=TOLD, ipa=TOLD, age_class=TOLD, facts=(TOLD,), caution=TOLD)
    return replace(two_heats(), briefings={"e1": said, "e2": replace(said, caution=HELD)})


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    """A heat with a note about lane 1 and about nobody, and lane 2 on hold with a note about it."""
    with site(called=_competition()) as made, ExitStack() as stack:
        spotter, table = Asker(made, "spotter", stack), Asker(made, "table", stack)
        assert spotter.send("note_sent", text=NOTED)
        assert spotter.send("note_sent", text=HELD, lane=2)
        assert table.send("hold_placed", lane=2)
        yield made


def _over_wire(server: Site, asker: Asker, view: str) -> str:
    hello = asker._hello()
    with server.wire(hello | ({"sender": f"{asker.sender}w"} if "sender" in hello else {})) as talk:
        assert talk.hear()["type"] == "welcome"
        talk.say({"type": "watch", "view": view, "heat": HEAT})
        return orjson.dumps(talk.hear()).decode()


def _over_http(server: Site, asker: Asker, path: str) -> str:
    headers = {"Authorization": f"Bearer {asker.key}"} if asker.key else {}
    return server.client.get(path, headers=headers).text


@pytest.mark.parametrize("column", COLUMNS)
def test_the_booth_is_in_one_view_and_for_five_roles(server: Site, column: str) -> None:
    """By table over every role and view, over wire and HTTP; and nothing of a lane that is held is in any of them."""
    with ExitStack() as stack:
        asker = Asker(server, column, stack)
        for view in VIEW_NAMES:
            answers = [_over_http(server, asker, f"/snapshot/{view}?heat={HEAT}")]
            answers += [] if column == "owner" else [_over_wire(server, asker, view)]
            for answer in answers:
                assert (NOTED in answer) == (view == "booth" and column in SEES_NOTES), (view, answer)
                assert (TOLD in answer) == (view == "booth" and column in SEES_FILE), (view, answer)
                assert HELD not in answer, (view, answer)


@pytest.mark.parametrize("column", COLUMNS)
def test_no_other_path_has_anything_of_the_booth(server: Site, column: str) -> None:
    """By table over every address that answers a GET: only the record of what was sent has notes, for those who may
    read it; the public feed and its segments have none."""
    with ExitStack() as stack:
        asker = Asker(server, column, stack)
        segment = orjson.loads(server.client.get("/public/newest").content).get("segment", "none")
        paths = [row.removeprefix("GET ").replace("{name}", segment) for row in TABLE if row.startswith("GET ")]
        for path in [each for each in paths if not each.startswith("/snapshot/") and "{" not in each]:
            answer = _over_http(server, asker, path)
            in_record = path == "/recording" and column in SEES_RECORD
            in_story = f"GET {path}" == STORY and column in (SEES_RECORD | {"head"})
            assert (NOTED in answer) == (in_record or in_story), path
            assert TOLD not in answer, path


def test_no_result_has_anything_of_the_booth(server: Site) -> None:
    """Results as table, CSV and JSON of what is on record are the same with notes and without them."""
    lines = [line.body for line in server.journal.read() if line.refusal is None]
    facts = read_recording("journal", b"\n".join(lines))
    counted = [fact for fact in facts if not fact.id.startswith("spotter")]
    assert len(facts) == len(counted) + 2
    for form in ("table", "csv", "json"):
        texts = [
            results_text(CompetitionBook(_competition(), found).at_last_facts(), Choice(), form=form)
            for found in (facts, counted)
        ]
        assert texts[0] == texts[1]
        assert not any(word in texts[0] for word in (NOTED, TOLD, HELD))


def test_two_commentators_and_one_who_comes_later_see_the_same(server: Site) -> None:
    """One pins, the other is shown it at once, and so is a third who opens the page afterwards."""
    with ExitStack() as stack:
        one, other = Asker(server, "commentator", stack), Asker(server, "commentator", stack)
        other.sender = "commentator-b"
        talk = other.talk
        talk.say({"type": "watch", "view": "booth", "heat": HEAT})
        assert talk.hear()["type"] == "snapshot"
        assert one.send("note_marked", item="spotter.1", mark="pinned", lane=1)
        talk.hear_until("patch")
        assert talk.frame["notes"]["spotter.1"]["mark"] == "pinned"
        third = orjson.loads(_over_http(server, one, f"/snapshot/booth?heat={HEAT}"))
        assert third["frame"] == talk.frame


def test_a_spotter_takes_back_its_own_notes_alone(server: Site) -> None:
    """Another spotter's note, and anything that was counted, is not its to void."""
    with ExitStack() as stack:
        one, other = Asker(server, "spotter", stack), Asker(server, "spotter", stack)
        one.sender, other.sender = "spotter-b", "spotter-c"
        assert one.send("note_sent", id="one.1", text="fresh chalk")
        assert not other.send("fact_voided", id="other.1", voids="one.1", lane=1)
        assert one.send("fact_voided", id="one.2", voids="one.1", lane=1)
        assert "fresh chalk" not in _over_http(server, one, f"/snapshot/booth?heat={HEAT}")


@pytest.mark.parametrize("text", ["", "   ", "two\nlines", "bell\x07", "a\u2028b", "x" * 161])
def test_a_note_is_one_line_that_is_not_too_long(server: Site, text: str) -> None:
    """What is blank, has control characters or line breaks, or more than 160 letters is refused."""
    with ExitStack() as stack:
        spotter = Asker(server, "spotter", stack)
        spotter.sender = "spotter-b"
        assert not spotter.send("note_sent", id="b.1", text=text)
        assert spotter.send("note_sent", id="b.2", text="x" * 160)


@pytest.mark.parametrize(("notes", "least_s", "most_s"), [(39, 0, 0), (60, 9, 10)])
def test_a_link_sends_forty_notes_at_once_and_then_two_a_second(
    server: Site, notes: int, least_s: float, most_s: float
) -> None:
    """What is more is taken, and then the link waits: for twenty more about ten seconds (docs/security.md)."""
    with ExitStack() as stack:
        spotter = Asker(server, "spotter", stack)
        spotter.sender = "spotter-b"
        stamp = {"fact": "note_sent", "heat": HEAT, "at_ms": 0, "unix_ms": 1, "sender": "spotter-b"}
        said = [
            {**stamp, "id": f"b.{n}", "sequence": n, "text": f"note {n}", "spotter": "Ada"} for n in range(1, notes + 1)
        ]
        assert spotter.answer({"type": "facts", "facts": said})["watermark"] == notes
        links = server.live.crew.links.all()
        [link] = [each.id for each in links if "spotter-b" in each.senders]
        assert least_s <= server.live.terms.links.of(link).facts.wait_s(time.monotonic()) <= most_s


def test_the_spotters_address_has_no_table_view(server: Site) -> None:
    """A spotter is told which views its link may not see, and that others may."""
    with ExitStack() as stack:
        answer: dict[str, Any] = orjson.loads(_over_wire(server, Asker(server, "spotter", stack), "table"))
    assert answer["code"] == "not_allowed"
