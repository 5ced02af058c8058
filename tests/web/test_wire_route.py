"""The wire as a client meets it, in one process."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import WebSocketDenialResponse
from starlette.websockets import WebSocketDisconnect

from core.samples import Pad
from tallywire.web.settings import Settings
from tallywire.wire.messages import MESSAGE_LIMIT
from web.site import WATCH, Site, site
from wire.reader import whole
from wire.talk import changed, facts, hello, text

PAD = "lane-1-a"


@pytest.fixture(name="server")
def _server() -> Iterator[Site]:
    with site() as made:
        yield made


def test_facts_sent_ahead_are_answered_in_order(server: Site) -> None:
    """Ten messages sent without waiting are answered one by one, and the last answer names the last number."""
    pad = Pad(PAD, 1)
    with server.wire(hello(PAD), *(facts(pad.reps(at_ms)) for at_ms in range(1, 11))) as talk:
        assert talk.hear()["type"] == "welcome"
        answers = [talk.hear() for _ in range(10)]
    assert [answer["type"] for answer in answers] == ["acknowledged"] * 10
    assert answers[-1]["watermark"] == 10
    assert answers[-1]["tally"]["done"] == 10


def test_a_repeat_is_answered_again_and_written_once(server: Site) -> None:
    """The same message twice gets the same answer and one line in the journal."""
    message = facts(Pad(PAD, 1).reps(1))
    with server.wire(hello(PAD), message, message) as talk:
        talk.hear()
        first, second = talk.hear(), talk.hear()
    assert first == second
    assert len(list(server.journal.read())) == 1


def test_a_gap_is_answered_with_the_number_expected(server: Site) -> None:
    """Number 2 before 1 is not taken; sent from the expected number on, both are."""
    pad = Pad(PAD, 1)
    one, two = pad.reps(1), pad.reps(2)
    with server.wire(hello(PAD), facts(two)) as talk:
        talk.hear()
        assert talk.hear() == {"type": "gap", "expected": 1, "found": 2}
        talk.say(facts(one, two))
        assert talk.hear()["watermark"] == 2


def test_two_connections_of_one_sender_lose_and_double_nothing(server: Site) -> None:
    """An old connection that is only half dead and a new one send the same facts: each is in the journal once."""
    pad = Pad(PAD, 1)
    sent = [pad.reps(at_ms) for at_ms in range(1, 7)]
    with server.wire(hello(PAD), facts(*sent[:4])) as old, server.wire(hello(PAD), facts(*sent)) as new:
        old.say(facts(*sent[3:]))
        assert new.hear_until("acknowledged")["watermark"] == 6
        old.hear_until("acknowledged")
        assert old.hear_until("acknowledged")["watermark"] == 6
    assert [line.sequence for line in server.journal.read()] == [1, 2, 3, 4, 5, 6]


def test_a_reconnect_goes_on_at_the_watermark(server: Site) -> None:
    """On a new connection the welcome says how far the sender's facts are in the journal."""
    with server.wire(hello(PAD), facts(Pad(PAD, 1).reps(1))) as talk:
        talk.hear_until("acknowledged")
    with server.wire(hello(PAD)) as talk:
        assert talk.hear()["watermark"] == 1


def test_a_refused_fact_is_named(server: Site) -> None:
    """A pad's fact for a foreign lane is acknowledged and named in `refused`."""
    with server.wire(hello(PAD), facts(changed(Pad(PAD, 1).reps(1), lane=2))) as talk:
        talk.hear()
        answer = talk.hear()
    assert answer["watermark"] == 1
    assert [(each["sequence"], each["code"]) for each in answer["refused"]] == [(1, "not_allowed")]


def test_a_wrong_key_is_told_and_closed(server: Site) -> None:
    """A pad with another lane's key gets not_allowed and the connection is closed with 1008."""
    with server.wire(text(type="hello", role="lane", lane=1, key="key-2", sender=PAD)) as talk:
        assert talk.hear()["code"] == "not_allowed"
        with pytest.raises(WebSocketDisconnect) as closed:
            talk.hear()
    assert closed.value.code == 1008


def test_a_viewer_sends_no_facts(server: Site) -> None:
    """A viewer's facts are not allowed; it stays connected and goes on watching."""
    with server.wire(facts(Pad(PAD, 1).reps(1)), WATCH) as talk:
        assert talk.hear()["code"] == "not_allowed"
        assert talk.hear()["type"] == "snapshot"


@pytest.mark.parametrize("message", ["{", "[1]", '{"type": "dance"}', '{"type": "watch", "view": "weather"}'])
def test_what_cannot_be_read_leaves_the_connection_open(server: Site, message: str) -> None:
    """After an error the same connection is still served."""
    with server.wire(message, text(type="ping", t1=1)) as talk:
        assert talk.hear()["code"] == "bad_message"
        assert talk.hear()["type"] == "pong"


def test_too_long_a_message_is_not_read(server: Site) -> None:
    """A message beyond 64 KiB is an error that names the bound."""
    with server.wire(text(type="facts", facts=["x" * MESSAGE_LIMIT])) as talk:
        error = talk.hear()
    assert error["code"] == "bad_message"
    assert "expected at most 65536" in error["message"]


def test_a_binary_frame_is_an_error(server: Site) -> None:
    """Bytes are answered with what was expected, and the connection stays open."""
    with server.wire() as talk:
        talk.socket.send_bytes(b"\x00\x01")
        assert "expected a text frame" in talk.hear()["message"]
        talk.say(WATCH)
        assert talk.hear()["type"] == "snapshot"


def test_too_many_messages_end_the_connection(server: Site) -> None:
    """A client that floods the server is told, and closed with 1008."""
    with server.wire(*[text(type="ping", t1=1)] * 1000) as talk:
        while (message := talk.hear())["type"] == "pong":
            pass
        assert message["code"] == "too_fast"
        with pytest.raises(WebSocketDisconnect) as closed:
            talk.hear()
    assert closed.value.code == 1008


@pytest.mark.parametrize(
    "origin", ["https://elsewhere.example", "null", "http://testserver.evil.example", "http://testserver:81"]
)
def test_a_page_from_elsewhere_may_not_open_the_wire(server: Site, origin: str) -> None:
    """A browser that names another origin gets 403 before the handshake is done."""
    with pytest.raises(WebSocketDenialResponse) as denied, server.wire(headers={"Origin": origin}):
        pass
    assert denied.value.status_code == 403


@pytest.mark.parametrize("origin", ["http://testserver", "https://testserver", "https://pages.example"])
def test_our_own_pages_and_allowed_ones_may(origin: str) -> None:
    """The server's own address is let in whatever the scheme says, and so is an origin on the list."""
    settings = Settings(data=Path("unused"), allow_origins=("https://Pages.example/",))
    with site(settings=settings) as server, server.wire(WATCH, headers={"Origin": origin}) as talk:
        assert talk.hear()["type"] == "snapshot"


def test_more_watchers_than_allowed_are_turned_away() -> None:
    """Beyond the limit a viewer is closed with 1013 and a pad is let in; when a viewer has left, another may watch."""
    with site(settings=Settings(data=Path("unused"), client_limit=1)) as server:
        with server.wire(WATCH) as talk:
            talk.hear()
            with server.wire(WATCH) as refused:
                assert refused.hear()["code"] == "too_many"
                with pytest.raises(WebSocketDisconnect) as closed:
                    refused.hear()
            assert closed.value.code == 1013
            with server.wire(hello(PAD), WATCH) as pad:
                assert [pad.hear()["type"] for _ in range(2)] == ["welcome", "snapshot"]
        with server.wire(WATCH) as talk:
            assert talk.hear()["type"] == "snapshot"


def test_patches_add_up_to_the_snapshot(server: Site) -> None:
    """A watcher's frame from patches, that of one who comes back and a newcomer's snapshot are all the same."""
    table = Pad("table-a")
    with server.wire(WATCH) as steady, server.wire(WATCH) as other:
        epoch = other.hear()["epoch"]
        steady.hear()
        with server.wire(hello("table-a")) as sender:
            for n in range(1, 21):
                sender.say(facts(table.correct(n, n, lane=1 + n % 3)))
                sender.hear_until("acknowledged")
            known = other.number
            while whole(steady.frame)["lanes"]["3"]["scored_reps"] != 20:
                steady.hear()
        with server.wire(WATCH) as newcomer, server.wire({**WATCH, "epoch": epoch, "number": known}) as back:
            snapshot = newcomer.hear()
            back.frame, back.number = other.frame, known
            while back.number < snapshot["number"]:
                back.hear()
    assert snapshot["frame"] == steady.frame == back.frame


def test_one_clients_garbage_does_not_touch_another(server: Site) -> None:
    """While one client talks rubbish the facts of another reach a third."""
    pad = Pad(PAD, 1)
    with server.wire() as rubbish, server.wire(WATCH) as viewer, server.wire(hello(PAD)) as sender:
        for at_ms in range(1, 11):
            rubbish.say("[" * 5000)
            sender.say(facts(pad.reps(at_ms)))
        while viewer.frame.get("lanes", {}).get("1", {}).get("done") != 10:
            viewer.hear()


def test_a_crash_in_one_session_stays_there(
    server: Site, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """An error of our own closes that client with 1011 and a log line; the next one is served."""

    def broken(**_: Any) -> bytes:
        raise ZeroDivisionError

    with server.wire(WATCH) as talk:
        talk.hear()
        monkeypatch.setattr("tallywire.wire.replies.pong", broken)
        talk.say(text(type="ping", t1=1))
        with pytest.raises(WebSocketDisconnect) as closed:
            talk.hear()
    assert closed.value.code == 1011
    assert "a client's connection failed" in caplog.text
    with server.wire(WATCH) as talk:
        assert talk.hear()["type"] == "snapshot"


def test_clients_are_counted(server: Site) -> None:
    """Health says how many are connected; those who leave are no longer counted."""
    with server.wire(WATCH) as talk:
        talk.hear()
        assert server.client.get("/health").json()["clients"] == 1
    with server.wire(WATCH) as talk:
        talk.hear()
        assert server.client.get("/health").json()["clients"] == 1


def test_the_journal_keeps_what_was_refused(server: Site) -> None:
    """A refused fact is in the journal as it came."""
    fact = replace(Pad(PAD, 1).reps(1), heat="nowhere")
    with server.wire(hello(PAD), facts(fact)) as talk:
        talk.hear_until("acknowledged")
    [line] = server.journal.read()
    assert b"nowhere" in line.body
    assert line.refusal is not None
