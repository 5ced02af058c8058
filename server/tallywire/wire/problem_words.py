"""What is wrong with a competition file, in the language of a page.

A check says in English what it found and what it expected. Here both are known again by their form: table `problem` of
the catalogues has the same in every language. What is no phrase, such as a value out of the file, is shown as it is.
"""

from __future__ import annotations

import re

from tallywire.core.errors import Problem
from tallywire.wire.catalogue import Catalogue
from tallywire.wire.forms import Forms
from tallywire.wire.problems import REQUIRED

_COLOUR = r'(?P<front>[a-z-]+) (?P<one>"#\w+")'
_OTHER_COLOUR = r'(?P<back>[a-z-]+) (?P<other>"#\w+")'
FOUND = {
    "nothing": r"nothing",
    "unknown_field": r"an unknown field with (?P<value>.*)",
    "a_value": r"a value",
    "lane_second": r"lane (?P<lane>\d+) of (?P<heat>.+) a second time",
    "place_second": r"place (?P<place>\d+) a second time",
    "second": r"(?P<what>.+) a second time",
    "no_lanes": r"no lanes",
    "mark": r"a mark",
    "both": r"both station and round",
    "neither": r"neither station and round",
    "vacant": r"a vacant place",
    "no_values": r"no values",
    "table": r"a table of (?P<places>\d+) places",
    "twice": r"(?P<what>.+) twice",
    "worth": r"(?P<worth>\S+) for place (?P<place>\d+)",
    "cut_second": r"a second cut after that event",
    "stations": r"(?P<stations>\d+) stations",
    "list": r"list",
    "a_table": r"dict",
    "formula_part": r'(?P<part>".*") in the formula (?P<formula>".*")',
    "formula_terms": r"a formula of (?P<terms>\d+) terms",
    "formula_letters": r"a formula of (?P<letters>\d+) characters",
    "no_value": r'no value of (?P<formula>".*") for place (?P<place>\d+) in a field of (?P<field>\d+)',
    "formula_worth": r'(?P<worth>\S+) from (?P<formula>".*") for place (?P<place>\d+) in a field of (?P<field>\d+)',
    "ratio": rf"{_COLOUR} on {_OTHER_COLOUR}: (?P<ratio>[\d.]+) to 1",
    "near": rf"{_COLOUR} and {_OTHER_COLOUR}: (?P<apart>[\d.]+) ΔE in normal vision",
    "near_blind": rf"{_COLOUR} and {_OTHER_COLOUR}: (?P<apart>[\d.]+) ΔE in (?P<vision>\w+) vision",
    "red": r'(?P<colour>"#\w+"), red in (?P<share>[\d.]+) of its light',
    "no_font": r'(?P<file>".*") \(no WOFF2 file\)',
    "no_picture": r'(?P<file>".*") \(neither SVG nor PNG\)',
    "file_bytes": r'(?P<file>".*") \((?P<bytes>\d+) bytes\)',
    "file_unread": r'(?P<file>".*") \(.+\)',
    "lanes": r"(?P<lanes>\d+) lanes",
    "facts": r"(?P<facts>\d+) facts of one entry",
    "no_header": r"no header",
    "byte": r"the byte (?P<byte>[0-9A-F]{2}), which is no UTF-8",
    "csv_end": r"unexpected end of data",
    "csv_quote": r"'[,;]' expected after '\"'",
    "csv_long": r"field larger than field limit \((?P<most>\d+)\)",
    "toml": r".+ \(at line (?P<line>\d+), column (?P<column>\d+)\)",
    "toml_end": r".+ \(at end of document\)",
    "measure": r"(?P<measure>time_at|reps_at) of (?P<format>\S+)",
}
EXPECTED = {
    "documented": r"only fields that are documented",
    "text": r"text",
    "not_empty": r"text that is not (?:empty|blank)",
    "letters_most": r"at most (?P<most>\d+) characters",
    "whole": r"a whole number",
    "number": r"a number",
    "boolean": r"true or false",
    "list": r"a list",
    "table": r"a table of names and values",
    "more": r"more than (?P<least>[\d.-]+)",
    "at_least": r"at least (?P<least>[\d.-]+)",
    "less": r"less than (?P<most>[\d.-]+)",
    "at_most": r"at most (?P<most>[\d.-]+)",
    "moment": r"a time (?:without quotes|with its offset from UTC), such as (?P<example>\S+)",
    "some_least": r"at least (?P<least>\d+) of them",
    "some_most": r"at most (?P<most>\d+) of them",
    "id": r"letters, digits and (?P<marks>.+) alone, a letter or a digit first, (?P<most>\d+) at most",
    "lane": r"a lane from 1 to 99",
    "plain_text": r"text without control characters or line breaks: there is (?P<letter>U\+\w+) at (?P<position>\d+)",
    "clock": r'a time (?:in quotes )?such as (?P<example>"[^"]+").*',
    "minutes": r"minutes below 60 after the hours",
    "one_of": r"(?P<names>'.*')",
    "own": r"an id of its own: (?P<other>\S+) has it",
    "own_name": r"one of its own: (?P<other>\S+) has it",
    "division": r"a division of this file: (?P<names>.*)",
    "points_table": r"a points table of this file: (?P<names>.*)",
    "entry": r"an entry of this file: (?P<names>.*)",
    "event": r"an event of this file: (?P<names>.*)",
    "heat": r"a heat of this file: (?P<names>.*)",
    "output": r"an output of this file: (?P<names>.*)",
    "no_floor": r"a floor of this file: this file names none",
    "floor": r"a floor of this file: (?P<names>.*)",
    "one_count": r"result: this is not one count to the end",
    "cap": r"at most the time cap, (?P<ms>\d+) ms",
    "needs": r"a value: (?:the format )?(?P<what>\S+) needs it",
    "has_none": r"nothing: (?P<what>\S+) has none",
    "only_format": r"nothing: only the format (?P<format>\S+) has it",
    "lane_taken": r"one entry on a lane: (?P<other>.+) has it",
    "heat_taken": r"one heat of the event for an entry: (?P<other>.+) has it",
    "a_lane": r"at least one lane, here or in a start list",
    "floor_used": r"a floor that at least one heat names",
    "heat_id": r"another id: this one means the heat on the floor",
    "in_order": r"not before (?P<other>heat\[\d+\]), (?P<time>.+): heats stand in the order of the day",
    "no_step": r"places or a formula: the fewest points win",
    "vacant_parts": r"it in the parts: each has places of its own",
    "one_way": r"one of places, first and step, or formula",
    "both_parts": r"a value: first and step go together",
    "scale": r"at most the places of the list: a table of (?P<places>\d+) places",
    "no_more": r"no more than (?P<worth>\S+) for place (?P<place>\d+): the most points win",
    "no_less": r"no less than (?P<worth>\S+) for place (?P<place>\d+): the fewest points win",
    "tie_once": r"each tie rule once",
    "shared_last": r"shared at the end only: nothing is compared after it",
    "count_back": r"count_back: where the fewest points win every place scores",
    "fewer": r"fewer than the (?P<scores>\d+) scores there are",
    "scores_most": r"at most (?P<scores>\d+), the number of scores",
    "table_once": r"one table from an event on: (?P<other>\S+) has it",
    "cut_after": r"an event with others after it",
    "cut_once": r"one cut: (?P<other>\S+) has it",
    "field_most": r"at most (?P<most>\d+): the field is no larger",
    "place_once": r"it once: (?P<other>\S+) has it",
    "field_least": r"at least (?P<least>\d+): the field is that large",
    "each_place": r"a number for every place",
    "negative": r"no negative points: wrap it in max\(0, …\) or set least",
    "rundown_once": r"one rundown for each output: (?P<other>\S+) is the first",
    "lane_whole": r"a whole number from 1 to 99",
    "no_tie_break": r"no tie-break: (?P<format>\S+) does not use one",
    "no_team": r"no team: (?P<format>\S+) is for one athlete",
    "work": r"one of them: stations, or rounds of stations",
    "no_rounds": r"no number of rounds where the rounds are listed",
    "round": r"a round from 1 to (?P<most>\d+)",
    "station": r"a station from 1 to (?P<most>\d+)",
    "work_most": r"at most (?P<most>\d+): the work has no more",
    "one_lift": r"one: the lift",
    "attempts": r"(?P<attempts>\d+): as many as the attempts",
    "windows": r"at least (?P<ms>\d+) ms: all windows",
    "toml": r"TOML(?:: mend it in a text editor)?",
    "csv": r"a CSV file that can be read",
    "contrast": r"(?P<least>[\d.]+) to 1 at least, for (?:text|the line of work)",
    "apart": r"(?P<least>\d+) ΔE at least in every vision",
    "flashes": r"less than 0\.80 \(WCAG 2\.3\.1: it flashes\)",
    "font": r"a WOFF2 font of at most 4 MB",
    "logo": r"an SVG or PNG picture of at most 1 MB",
    "header": r"a header with (?P<columns>.*)",
    "formula_words": r"a number, place, field, .+, brackets, min, max, floor, ceil or round",
    "formula": r'an expression such as (?P<example>".*")',
    "view": r"a view: (?P<names>.*)",
    "view_takes": r"only what (?P<view>\S+) takes: (?P<names>.*)",
    "no_part": r"a scored part of an event: this file has none",
    "part": r"a scored part of an event: (?P<names>.*)",
    "who": r'who the view is about, such as (?P<one>"[^"]*") or (?P<other>"[^"]*")',
    "who_form": r"lane:N, entry:ID, place:N, leader, battle:N, finisher or fastest",
    "lanes_some": r"(?P<least>\d+) to (?P<most>\d+) for (?P<view>\S+)",
    "lanes_just": r"(?P<least>\d+) for (?P<view>\S+)",
    "lane_here": r"a lane of the heat, or of any heat of this file",
    "entry_here": r"an entry on a lane of the heat, or of any heat of this file",
    "as_before": r'(?P<known>".*"), as (?P<other>.+) has it',
    "csv_form": r"CSV as in RFC 4180",
    "utf8": r"a file that was saved as UTF-8",
    "pieces": r"at least (?P<ms>\d+) ms: all pieces and rests",
    "among": r"one of (?P<names>\d.*)",
    "colour": r'a colour such as (?P<example>"#\w+")',
    "finite": r"a number that is not infinite",
}
AT = {
    "file": r"the (?:competition )?file",
    "whole": r"\(the whole\)",
    "id_line": r"(?P<path>\S.*) \((?P<id>[^()]*), line (?P<line>\d+)\)",
    "line": r"(?P<path>\S.*) \(line (?P<line>\d+)\)",
    "field": r"(?P<path>\S.*), a field of (?P<field>\d+)",
    "row": r"(?P<file>.*) line (?P<line>\d+)",
    "column": r"(?P<file>.*) line (?P<line>\d+), (?P<column>[\w\[\]]+)",
}
"""How a place in a file, or in a start list, is written."""
_FOUND, _EXPECTED, _AT = (
    Forms({key: f"(?s:{form})" for key, form in forms.items()}) for forms in (FOUND, EXPECTED, AT)
)
_PLACES = ("path", "other")
"""Values that are themselves places."""
_OR = re.compile("' or '(?=[^']*'$)")


def problem_said(problem: Problem, words: Catalogue) -> dict[str, str]:
    """Give what was `found`, `expected` and where (`at`), in the language of these words; as it is without others.

    What is expected is empty where any value will do.
    """
    return {
        "at": _said("at", problem.path, _AT, words),
        "found": _said("found", problem.found, _FOUND, words),
        "expected": "" if problem.expected == REQUIRED else _said("expected", problem.expected, _EXPECTED, words),
    }


def _said(part: str, text: str, forms: Forms, words: Catalogue) -> str:
    """Say a phrase in these words; the last of several names is joined with a comma, as the others are."""
    known = forms.known(text)
    if known is None:
        return text
    key, values = known
    told = {
        name: _said("at", value, _AT, words) if name in _PLACES else _OR.sub("', '", value)
        for name, value in values.items()
    }
    return words.say(f"problem.{part}.{key}", **told)
