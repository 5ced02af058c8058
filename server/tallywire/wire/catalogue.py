"""The catalogues: all words that the public and the crew read, one TOML file a language.

A key is the name of its table and its own, such as `public.connecting`. A value is a text with placeholders in braces,
or a table of texts by plural category (CLDR): `{one = "{n} point", other = "{n} points"}`, chosen by `n`. A format
brings its own words in `languages/` of its package: the table `pages` stands under the format's name, `cues` beside the
others. The table `cues` is for `cue_wording` alone.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

import orjson
from babel import Locale

from tallywire.core.formats.format import Format
from tallywire.core.formats.registry import formats

LANGUAGES = ("en", "es", "fr", "ar", "ja")
"""Their BCP 47 codes; the first one is what everything else is translated from."""
CATEGORIES = ("zero", "one", "two", "few", "many", "other")
"""The plural categories of CLDR."""
CUES = "cues"
_FOLDER = "languages"
_PLACE = re.compile(r"\{\{([a-z_.]+)\}\}")
_LANGUAGE, _DIRECTION, _LANGUAGES = "language", "direction", "languages"

Text = str | Mapping[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class Catalogue:
    """The words of one language; `direction` is `ltr` or `rtl`, as HTML has it."""

    language: str
    direction: str
    texts: Mapping[str, Text]

    def say(self, key: str, **values: str | float) -> str:
        """Give a text with its placeholders filled; `n` chooses the plural form. Raises KeyError for an unknown key."""
        text = self.texts[key]
        if not isinstance(text, str):
            text = text[Locale.parse(self.language).plural_form(float(values["n"]))]
        return text.format_map(values)


def catalogue(language: str) -> Catalogue:
    """Give a language's catalogue with what the formats bring. Raises KeyError for a language that there is not."""
    if language not in LANGUAGES:
        raise KeyError(language)
    return _catalogue(language, formats())


@lru_cache(maxsize=2 * len(LANGUAGES))
def _catalogue(language: str, known: tuple[Format, ...]) -> Catalogue:
    texts = dict(_flat(_without_cues(tables(language))))
    for each in known:
        texts |= {f"{each.name}.{key}": text for key, text in _flat(format_tables(each, language).get("pages", {}))}
    return Catalogue(language, Locale.parse(language).text_direction, texts)


def tables(language: str) -> dict[str, Any]:
    """Give the tables of a language's file as they stand."""
    return _read(files("tallywire") / _FOLDER / f"{language}.toml")


def format_tables(own: Format, language: str) -> dict[str, Any]:
    """Give the tables that a format brings for a language; empty where it brings none."""
    path = _path(own, language)
    return _read(path) if path is not None and path.is_file() else {}


def catalogue_texts(language: str) -> list[str]:
    """Give the text of a language's file, and of those that formats bring, as they stand."""
    paths = [files("tallywire") / _FOLDER / f"{language}.toml", *(_path(each, language) for each in formats())]
    return [path.read_text(encoding="utf-8") for path in paths if path is not None and path.is_file()]


def _path(own: Format, language: str) -> Traversable | None:
    package = sys.modules[type(own.counting).__module__].__package__
    return files(package) / _FOLDER / f"{language}.toml" if package else None


def _read(path: Traversable) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _without_cues(found: Mapping[str, Any]) -> dict[str, Any]:
    return {name: table for name, table in found.items() if name != CUES}


def _flat(found: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Text]]:
    """Give every text under its whole key."""
    for key, value in found.items():
        if isinstance(value, dict) and not is_plural(value):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield before + key, value


def is_plural(value: Mapping[str, Any]) -> bool:
    """Tell whether a table of a catalogue holds the plural forms of one text."""
    return "other" in value and set(value) <= set(CATEGORIES)


def script(words: Catalogue, sections: tuple[str, ...] | None = None) -> str:
    """Give a catalogue as a script for the pages: all of it, or the tables named."""
    wanted = {key: text for key, text in words.texts.items() if sections is None or key.split(".")[0] in sections}
    data = {"language": words.language, "direction": words.direction, "texts": wanted}
    return f"globalThis.WORDS = {orjson.dumps(data).decode()};\n"


def format_sections() -> tuple[str, ...]:
    """Name the tables that the formats bring for the pages."""
    return tuple(each.name for each in formats())


def filled(page: str, words: Catalogue, *, offered: tuple[str, ...] = ()) -> str:
    """Give a page's HTML with every {{key}} replaced. `offered` are the languages from which the browser may choose."""
    own = {_LANGUAGE: words.language, _DIRECTION: words.direction, _LANGUAGES: " ".join(offered)}

    def text(found: re.Match[str]) -> str:
        return escape(own[found[1]] if found[1] in own else words.say(found[1]))

    return _PLACE.sub(text, page)
