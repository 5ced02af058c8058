"""What the server says to people, in every language: no sentence that a page shows has English words alone."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import orjson
import pytest

from core.folding import fold
from core.samples import HEAT, Pad, competition
from shell.test_ailments import CASES, ENDED, WELL
from tallywire.core.errors import AheadOfClock, FactRefused, LinkEnded, NotAllowed, TallywireError
from tallywire.core.facts import Fact
from tallywire.core.show.catalogue import missing, missing_by_lane
from tallywire.core.show.surroundings import Surroundings
from tallywire.shell.ailments import ailments
from tallywire.shell.links import Links, Wish
from tallywire.shell.storage import AWAY, BACK, HELD, LOW, OK
from tallywire.wire import replies
from tallywire.wire.catalogue import LANGUAGES, catalogue
from tallywire.wire.reasons import FORMS, reason_of
from tallywire.wire.roles import ROLES
from tallywire.wire.rules import Sender, check

SERVER = Path(__file__).parents[2] / "server" / "tallywire"
LANE_2 = Sender(name="lane-2-a", role=ROLES["lane"], lane=2)
TABLE = Sender(name="table-a", role=ROLES["table"])


def refused(fact: Fact, sender: Sender) -> TallywireError:
    """Give the error with which a fact is refused."""
    with pytest.raises((NotAllowed, FactRefused)) as caught:
        check(replace(fact, sender=sender.name), sender, competition())
    return caught.value


def ended_link() -> TallywireError:
    """Give the error of a link that was taken back."""
    links = Links(now_ms=lambda: 0)
    [issued] = links.issue([Wish(role="desk")])
    links.revoke(issued.link.id)
    with pytest.raises(LinkEnded) as caught:
        links.authorise("desk", None, issued.key)
    return caught.value


def refusals() -> dict[str, TallywireError]:
    """Give what is refused by rules and links, each as the server's own code says it."""
    rep, call = Pad("lane-2-a", 1).reps(1000), Pad("lane-2-a", 2).reps(1000)
    return {
        "other_lane": refused(rep, LANE_2),
        "not_for_role": refused(Pad("x", 2).start(), LANE_2),
        "no_heat": refused(replace(call, heat="moon"), LANE_2),
        "no_lane": refused(Pad("x", 77).reps(1000), TABLE),
        "link_taken_back": ended_link(),
    }


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_refusal_is_said_in_every_language(language: str) -> None:
    """Code and English stay as they are; beside them stands a key with values, which give a whole sentence."""
    english = catalogue("en")
    for key, error in refusals().items():
        told = orjson.loads(replies.failed(error))
        assert (told["code"], told["message"], told["reason"]["key"]) == (error.code, str(error), key)
        text = catalogue(language).say(f"said.{key}", **told["reason"]["values"])
        assert language == "en" or text != english.say(f"said.{key}", **told["reason"]["values"]), key
        assert all(value in text for value in told["reason"]["values"].values()), key


@pytest.mark.parametrize(("wrong", "words"), CASES, ids=[words[:24] for _, words in CASES])
def test_what_is_wrong_with_the_server_is_known(wrong: dict[str, Any], words: str) -> None:
    """Each sentence of the Server page has a key, and its values fill the text of each language."""
    [reason] = ailments(replace(WELL, **wrong))
    english = reason.text(catalogue("en"))
    for language in LANGUAGES[1:]:
        text = reason.text(catalogue(language))
        assert "{" not in text and not re.search(r"\b(call|standings|count)\b", text) and text != english, words


def test_what_is_said_of_the_disk_is_known() -> None:
    """Pads and the table hear of it as it changes."""
    found = [
        orjson.loads(replies.storage(state=each.state, key=each.key, message=each.message))
        for each in (OK, LOW, HELD, AWAY)
    ]
    assert [each["reason"]["key"] for each in found] == ["disk_room", "disk_low", "disk_full", "journal_away"]
    assert reason_of(BACK.message) == {"key": "journal_back", "values": {}}


def test_what_a_view_lacks_has_its_words_as_the_key() -> None:
    """Frames have the sentence alone: the desk makes the key from it, so it is the one that refusals have."""
    pads = [Pad("starter").start(), Pad("a", 1).withdraw(1000)]
    states = [fold(competition(lanes=lanes), HEAT, facts) for lanes, facts in ((2, pads), (2, []), (0, []))]
    nothing = Surroundings(raced=False, exact=False, next=False)
    tables = [missing_by_lane(state, nothing) for state in states]
    found = {each for table in tables for lacks in table.values() for each in lacks.values()}
    assert len(found) >= 8
    for message in found:
        reason = reason_of(message)
        assert reason is not None, message
        assert reason["key"] == re.sub(r"\d+ ", "", message).replace(" ", "_")


@pytest.mark.parametrize(
    ("who", "key"),
    [
        ("leader", "nobody_leads"),
        ("fastest", "nobody_fastest"),
        ("finisher", "nobody_in"),
        ("place:2", "nobody_in_place"),
        ("battle:2", "nobody_fights"),
        ("lane:9", "lane_not_in"),
        ("entry:x", "entry_not_in"),
    ],
)
def test_that_nobody_is_meant_is_known(who: str, key: str) -> None:
    """Before the start there is no leader and no place; a lane or an entry may be of another heat."""
    reason = reason_of(
        str(missing("duel" if who == "battle:2" else "athlete", {"who": who}, fold(competition(), HEAT, [])))
    )
    assert reason is not None
    assert reason["key"] == key


def test_what_only_a_program_can_cause_stays_english() -> None:
    """There is a message and no reason; a sentence that is too long is not looked at."""
    assert "reason" not in orjson.loads(replies.failed(AheadOfClock("found null, expected one JSON object")))
    assert reason_of('found heat "' + "x" * 2000 + '", expected one of a') is None


def test_keys_are_those_of_the_catalogues() -> None:
    """Each form has a text with just its values, each thing wrong has one, and no text is there for nothing."""
    late = {"helper": ENDED, "behind_s": {"call": 9.0, "standings": 9.0}}
    ill = {each.key for wrong in (*(wrong for wrong, _ in CASES), late) for each in ailments(replace(WELL, **wrong))}
    texts = {key.removeprefix("said."): text for key, text in catalogue("en").texts.items() if key.startswith("said.")}
    assert set(texts) == set(FORMS) | ill
    for key, form in FORMS.items():
        assert set(re.findall(r"\{(\w+)\}", str(texts[key]))) <= set(re.findall(r"\?P<(\w+)>", form)), key


def test_forms_are_those_of_the_program() -> None:
    """The longest run of plain words of each form stands in the server's source, so a sentence is not changed alone."""
    paths = [path for path in SERVER.rglob("*.py") if path.name != "reasons.py"]
    source = "".join(path.read_text(encoding="utf-8") for path in paths)
    source = re.sub(r"[\"']\s*\n\s*f?[\"']", "", source).lower()
    for key, form in FORMS.items():
        for each in form.split("|found"):
            pieces = re.split(r", which is |\(\?.*?\)|\[.*?\][+*?]?|\.[+*]|\\d\+|\\w\+|\.\?$", each)
            words = max(
                (piece.replace("\\", "").removeprefix("found ").strip(' ".,:?') for piece in pieces), key=len
            ).lower()
            assert len(words) > 7 and words in source, (key, words)
