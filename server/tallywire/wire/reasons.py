"""What the server says to people, as the key of a text with its values, so that a page says it in its own language.

What is wrong with the server is a `Reason` from the beginning. Whatever is refused is said in English where it is
found, and so it is kept in the journal and the logs. Here such a sentence is known again by its form: table `said` of
the catalogues has the same in every language. A sentence that only a program can cause has no other words than the
English ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from tallywire.wire.catalogue import Catalogue
from tallywire.wire.forms import Forms

FORMS = {
    # About facts.
    "not_called": r'found a count in heat "(?P<heat>.*)", which is not called to the floor: the table calls it',
    "heat_signed": r'found a count in heat "(?P<heat>.*)", which is signed: tell the table',
    "no_heat": r'found heat "(?P<heat>.*)", expected one of .+',
    "no_lane": r"found lane (?P<lane>\d+), expected a lane of (?P<heat>.+): (?P<lanes>[\d, ]+)",
    "no_such_lane": r'found lane (?:")?(?P<lane>[^"]*?)(?:")?, expected one of (?P<lanes>[\d, ]+)',
    "other_lane": r"found lane (?P<lane>\d+|none), expected lane (?P<own>\d+), whose link was used",
    "other_floor": r"found heat (?P<heat>.+) on floor .+, expected one on (?P<own>.+), whose link was used",
    "other_floor_heat": r"found heat (?P<heat>.+), expected one on floor (?P<own>.+), whose link was used",
    "not_for_role": r"found (?P<fact>[a-z_]+), expected what a .+ may send: .+",
    "no_output": r'found output "(?P<output>.*)", expected one of .+',
    "not_own": r'found fact ".*" (?:nobody\'s|of ".*"), expected one that ".*" sent',
    "same_id": r'found id ".*" of fact \d+ of ".*", expected an id of its own',
    "same_sender": r"found another fact under sequence \d+, expected the one sent before: .+",
    "ahead": r"lane (?P<lane>\d+): found a touch of .+ (?P<seconds>[\d.]+) s ahead of the server's clock, expected .+",
    "too_fast": r"found more than \d+ messages a second, .+|found more facts than a link may send, .+",
    "too_many_refused": r"found more than \d+ refused facts of this link, .+",
    # About views and the rundown. What a view lacks has its own words as the key: frames have only the sentence.
    "old_rundown": r"found a change of an older rundown: another desk was first\. Look at it and change it again",
    "too_many_lines": r"found (?P<found>\d+) lines, expected at most (?P<most>\d+)",
    "no_lines": r"found lines to (?P<found>\d+), expected at most (?P<most>\d+)",
    "too_few": r"found (?P<found>\d+) lanes, expected (?P<least>\d+): two of the subjects are the same now",
    "no_score": r"the event of this heat has no score (?P<score>.+)",
    "held": r"lane (?P<lane>\d+) is under a medical hold",
    "nobody_in": r"nobody has come in yet",
    "nobody_leads": r"nobody is the leader now",
    "nobody_fastest": r"nobody is the fastest now",
    "nobody_in_place": r"nobody is in place (?P<place>\d+) now",
    "nobody_fights": r"nobody fights for place (?P<place>\d+) now",
    "lane_not_in": r"lane (?P<lane>\d+) is not in this heat",
    "entry_not_in": r"entry (?P<entry>\S+) is not in this heat",
    "views_full": r"found (?P<views>\d+) views watched, expected at most \d+: try later",
    "lane_has_not_finished": r"lane (?P<lane>\d+) has not finished",
    "lane_withdrew": r"lane (?P<lane>\d+) withdrew",
    "lane_did_not_start": r"lane (?P<lane>\d+) did not start",
    "lane_is_disqualified": r"lane (?P<lane>\d+) is disqualified",
    "no_heat_comes_after_this_one": r"no heat comes after this one",
    "nobody_is_on_a_lane_of_this_heat": r"nobody is on a lane of this heat",
    "the_heat_has_not_started": r"the heat has not started",
    "the_heat_is_over": r"the heat is over",
    "the_heat_still_runs": r"the heat still runs",
    "no_heat_of_the_event_has_started": r"no heat of the event has started",
    "what_is_needed_has_no_exact_answer_here": r"what is needed has no exact answer here",
    # About links and codes.
    "wrong_key": r"found a key that does not open role .+: copy the page's link again",
    "link_taken_back": r"found a link that was taken back: ask the scoring table for a new one",
    "link_over": r"found a link whose time is over: ask the scoring table for a new one",
    "no_link": r'found ".*", expected the id of a link: see the list',
    "too_many_links": r"found (?P<found>\d+) links, expected at most (?P<most>\d+): take back what is old",
    "no_code": r"found a code that is none, or was typed before: ask the table for a new slip",
    "wrong_codes": r"found too many wrong codes, expected fewer: wait a minute",
    "no_table_key": r"found no key of the table.*",
    # About the competition file.
    "file_changed": r"found a file that was changed meanwhile, expected the one that was opened: open it again",
    "file_parts": r"found tables that are written in parts, expected each in one piece: use a text editor",
    "file_form": r"found a file whose form cannot be kept, expected plain tables: use a text editor",
    "body_long": r"found a body of more than (?P<most>\d+) bytes, expected less",
    "file_long": r"found \d+ bytes, expected (?P<most>\d+) at most: use a text editor",
    "file_unwritten": r"cannot write (?P<file>.+) \((?P<why>.*)\): .+",
    "heat_gone": r'found heat "(?P<heat>.*)" gone, expected it to stay: it has begun',
    "heat_lanes": r'found other lanes in heat "(?P<heat>.*)", expected those with which it began',
    "heat_work": r'found another workout in heat "(?P<heat>.*)", expected the one with which it began',
    "heat_busy": r'found heat "(?P<heat>.*)" on the floor, expected none: make changes between heats',
    "no_file": r"found a server without a file of its own, expected tallywire serve FILE",
    "no_show": r"found a server behind TLS or a proxy, expected `tallywire rehearse` on its own machine",
    "show_silent": r"found no rehearsal that answers, expected one within a minute: try again",
    "show_failed": r"the rehearsal did not begin: (?P<why>(?s:.+))",
    "bad_seed": r'found seed "(?P<found>.*)", expected a whole number from 0 to (?P<most>\d+)',
    # About a rehearsal.
    "no_rehearsal": r"found a live server, expected a rehearsal to steer",
    "moment": r"found (?P<found>.+ s), expected a moment from 0\.0 s to (?P<length>.+ s)",
    "passage": r"found a passage from (?P<start>.+ s) to (?P<end>.+ s), expected one of a second or more within .+",
    "changes": r"found (?P<most>\d+) changes, expected no more: take one back first",
    "no_work": r"found no work of lane (?P<lane>\d+) after that, expected a repetition to call a no-rep",
    "no_change": r"found no change to take back, expected one",
    "none_after": r"found no .+ (?:after) this moment, expected one.*",
    "none_before": r"found no .+ (?:before) this moment, expected one.*",
    # About the server itself.
    "disk_room": r"[Tt]he server's disk has room again: everything is taken\.?",
    "disk_low": r"[Tt]he server's disk is almost full, its reserve is in use: ask for room on it now\.?",
    "disk_full": r"[Tt]he server's disk is full: touches are kept on this device and taken as soon as there is room\.?",
    "journal_away": r"[Tt]he journal's server does not answer: touches are kept on this device .+",
    "journal_back": r"[Tt]he journal's server is back: everything is taken\.?",
}
_SAID = Forms(FORMS)
_LONGEST = 1000
ENGLISH = "en"


@dataclass(frozen=True, slots=True)
class Reason:
    """What is said to a person: the `key` of its text in table `said`, with the values in it."""

    key: str
    values: Mapping[str, str | float] = field(default_factory=dict)

    def text(self, words: Catalogue) -> str:
        """Say it in these words."""
        return words.say(f"said.{self.key}", **self.values)


@lru_cache(maxsize=256)
def _found(message: str) -> tuple[str, dict[str, str]] | None:
    return _SAID.known(message)


def reason_of(message: str) -> dict[str, Any] | None:
    """Give `key` and `values` of what was said in English; None where there are no other words for it."""
    found = _found(message) if len(message) <= _LONGEST else None
    return None if found is None else {"key": found[0], "values": {**found[1]}}


def with_reason(data: Mapping[str, Any]) -> dict[str, Any]:
    """Add the `reason` to what has a `message`, where there is one."""
    reason = reason_of(str(data.get("message", "")))
    return {**data} if reason is None else {**data, "reason": reason}


def refusal_text(message: str, words: Catalogue) -> str:
    """Give what was said in English in the language of these words, where it has others."""
    reason = None if words.language == ENGLISH else reason_of(message)
    return message if reason is None else words.say(f"said.{reason['key']}", **reason["values"])
