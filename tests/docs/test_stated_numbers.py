"""Numbers that the pages state are those of the program: the limits of the wire, of files, of links and of waiting."""

from __future__ import annotations

from pathlib import Path

import pytest

from simulated.test_fresh_worlds import FRESH
from simulated.test_fresh_worlds import LONG as FRESH_LONG
from simulated.test_world import FIXED
from simulated.test_world import LONG as MORE
from tallywire.core.forecast.answer import DRAWS
from tallywire.core.model.workout import Station
from tallywire.core.views.booth import NOTES_MOST
from tallywire.core.views.public import ROWS_MOST, STANDINGS_MOST
from tallywire.shell import ailments, fan_out, forecast_log, keys, links, pads
from tallywire.shell.journal import holding as local_holding
from tallywire.shell.journal.on_redis import holding as redis_holding
from tallywire.shell.journal.on_redis import tail
from tallywire.shell.journal.opening import RedisOptions
from tallywire.web import bodies, bounds, client, heads, http_protocol, link_routes, settings, uvicorn_server
from tallywire.wire import competition_schema, fact_lines, messages, recording, session
from tallywire.wire import links as wire_links

DOCS = Path(__file__).parents[2] / "docs"
KIB, MIB = 1024, 1024 * 1024
WORDS = {3: "three", 4: "four", 100: "hundred"}
PLACES = bounds.Bounds()
STATED = [
    ("wire.md", "A message has at most {} KiB", messages.MESSAGE_LIMIT / KIB),
    ("wire.md", "`facts`: 1 to {} facts, in the sender's order", messages.FACTS_LIMIT),
    ("wire.md", "at most {} facts in 64 KiB", messages.FACTS_LIMIT),
    ("wire.md", "at most 256 facts in {} KiB", bodies.BODY_LIMIT / KIB),
    ("wire.md", "A connection may send at most {} messages a second", client.MESSAGES_A_SECOND),
    ("wire.md", "A connection that for {} s neither watches a view nor has shown a key", client.IDLE_S),
    ("wire.md", "closed ({}: try again later)", str(client.TRY_AGAIN_LATER)),
    ("wire.md", "`too_fast` and then a close ({}), so send facts in lists", str(session.POLICY_VIOLATION)),
    ("wire.md", "A connection that has not finished a request after {} s is cut", http_protocol.REQUEST_S),
    ("wire.md", "does not read for {} s is cut off", http_protocol.STALL_S),
    ("wire.md", "The server pings every {} s", uvicorn_server.PING_S),
    ("wire.md", "The server listens on `http://HOST:{}` unless told otherwise", str(settings.DEFAULT_PORT)),
    ("wire.md", "One link has {} facts\n   refused", wire_links.REFUSED_AT_ONCE),
    ("wire.md", "Good facts beyond {} at once", wire_links.FACTS_AT_ONCE),
    ("wire.md", "at once and {} a second of a link wait", wire_links.FACTS_A_SECOND),
    ("wire.md", "one that cannot be read counts as {}.", 1 + wire_links.UNREADABLE_COST),
    ("wire.md", "by division (up to {} rows and those on the floor)", ROWS_MOST),
    ("reliability.md", "The test command plays {} worlds", len(FIXED) + FRESH),
    ("reliability.md", "| short {}, long 11,000 |", len(FIXED) + FRESH),
    ("reliability.md", "long {} | every invariant holds", len(MORE) + FRESH_LONG),
    ("reliability.md", "{} a second, 500 at once | closed with 1008", wire_links.REFUSED_A_SECOND),
    ("reliability.md", "Of a refused fact longer than {} KiB", wire_links.REFUSED_BYTES / KIB),
    ("reliability.md", "a message has at most {} fields", messages.FIELDS_LIMIT),
    ("reliability.md", "fields and a fact {}.", fact_lines.FIELDS_LIMIT),
    ("reliability.md", "The head of a request is at most {} KiB", heads.HEAD_LIMIT / KIB),
    ("reliability.md", "`DIR/reserve` keeps {} MiB of the disk in reserve", local_holding.RESERVE_BYTES / MIB),
    ("reliability.md", "(by a beat every {} s, whose", redis_holding.BEAT_S),
    ("reliability.md", "answer is waited for {} s)", redis_holding.PATIENCE_S),
    ("reliability.md", "It tries again {} times a second", WORDS[round(1 / redis_holding.LOOK_S)]),
    ("reliability.md", "| guests | 5,000 | {}: `--address-limit`", bounds.ADDRESS_GUESTS),
    ("reliability.md", "allows and keeps {} for itself", bounds.OWN_DESCRIPTORS),
    ("reliability.md", "| waiting | {} |", PLACES.waiting),
    ("reliability.md", "| waiting | 256 | {} |", PLACES.address_waiting),
    ("reliability.md", "| newcomers | {} |", PLACES.newcomers),
    ("reliability.md", "| newcomers | 256 | {} |", PLACES.address_newcomers),
    ("reliability.md", "| guests | {} |", PLACES.guests),
    ("reliability.md", "| crew | {} kept free, more in the places of guests | | 32 |", PLACES.crew),
    ("reliability.md", "| crew | 512 kept free, more in the places of guests | | {} |", PLACES.link),
    ("reliability.md", "| joins | {} a second, 16 at once", PLACES.joins_a_second),
    ("reliability.md", "| joins | 250 a second, {} at once", PLACES.joins_at_once),
    ("wire.md", "A client may watch up to {} views at once", fan_out.VIEWS_A_CLIENT),
    ("wire.md", "Views change at most {} times a second", 1 / fan_out.TICK_S),
    ("wire.md", "`links`: up to {} of", link_routes.WISHES_MOST),
    ("wire.md", "(up to {} rows and those on the floor), which stay", STANDINGS_MOST),
    ("reliability.md", "keeps the last {};", tail.TAIL_MOST),
    ("reliability.md", "of at least {} in a minute)", ailments.ENOUGH),
    ("reliability.md", "waits more than {} ms for its answer", ailments.ANSWER_MS),
    ("reliability.md", "where a commit takes more than {} ms", ailments.SLOW_PART_MS),
    ("reliability.md", "are more than {} s behind the count", ailments.VIEW_BEHIND_S),
    ("reliability.md", "less than {} GB is free on its disk", ailments.DISK_FREE / 10**9),
    ("reliability.md", "It has the lease, for {} s (`--lease`)", RedisOptions(url="").lease_ms / 1000),
    ("security.md", "It has a key of {} random bits", len(keys.make_key()) * 6),
    ("security.md", "at most {} characters; a link sends", fact_lines.NOTE_MOST),
    ("security.md", "a frame has a {}.", WORDS[NOTES_MOST]),
    ("frames.md", "`alarms` of the last {} s", pads.ALARM_MS / 1000),
    ("security.md", "a link ends when its time is over ({} days by default)", WORDS[links.DAYS]),
    ("forecast.md", "The likeliest places, from {} drawn ends of the heat", DRAWS),
    ("forecast.md", "at most {} MB, and a file that cannot be written", forecast_log.MOST_BYTES / MIB),
    ("recording.md", "A line is at most {} KiB", recording.LINE_LIMIT / KIB),
    ("competition-file.md", "for small graphics, up to {} characters", competition_schema.SHORT_MOST),
    ("competition-file.md", "| `touch_guard_ms` | {} |", Station(movement="Row", amount=1).touch_guard_ms),
]
"""The page, the words in which it states a number, and the number; codes and numbers in words as they are written."""


@pytest.mark.parametrize(("page", "words", "number"), STATED, ids=[f"{page} {words}" for page, words, _ in STATED])
def test_a_stated_number_is_the_programs(page: str, words: str, number: float | str) -> None:
    """The page has the sentence, with the number that the program goes by."""
    stated = number if isinstance(number, str) else f"{number:,.10g}"
    assert words.replace("{}", stated) in (DOCS / page).read_text(encoding="utf-8")
