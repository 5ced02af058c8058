"""What the spectator page is made of, as small as a phone on a full network needs it."""

from __future__ import annotations

import re
from gzip import compress
from hashlib import sha256

from tallywire.core.model.competition import Competition
from tallywire.core.model.theme import Theme
from tallywire.shell.public_feed import Piece
from tallywire.web.files import Files
from tallywire.web.modules import without_comments
from tallywire.web.pages import needed_by, one_of_each
from tallywire.web.theme import style_sheet
from tallywire.wire.catalogue import LANGUAGES, catalogue, filled, format_sections, script

_PAGE = "public"
_SECTIONS = ("shared", "result", "plain", "public")
"""The tables of the catalogues that the page needs, beside those of the formats."""
_INDENT = re.compile(r"^[ \t]+|^\n", re.MULTILINE)
_CSS_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)


class SpectatorFiles:
    """The spectator page. Its files stand under an address that changes with any byte of them, so they never go stale.

    The theme's sheet of the competition is one of them; a competition's own typeface is left out, for its size. So are
    the words, those of this page alone. `pages` has the page in each language, and under no name that of the
    competition, whose first script goes on to the language of the browser where the competition lets it.
    """

    def __init__(self, files: Files, competition: Competition) -> None:
        page = one_of_each(files.text(f"{_PAGE}/index.html") or "")
        self._kept = {name: _piece(_short(name, files.body(name) or b"")) for name in needed_by([_PAGE], files)}
        self._kept["theme/sheet.css"] = _piece(style_sheet(Theme(colours=competition.theme.colours)).encode())
        words = {each: script(catalogue(each), (*_SECTIONS, *format_sections())) for each in LANGUAGES}
        self._kept |= {f"languages/{each}.js": _piece(text.encode()) for each, text in words.items()}
        names = "".join(f"{name} {piece.name}\n" for name, piece in self._kept.items())
        self._digest = sha256(names.encode()).hexdigest()[:16]
        choice = LANGUAGES if competition.spectators_choose else ()
        self.pages = {each: self._written(page, each, choice, base="../") for each in LANGUAGES}
        self.pages[""] = self._written(page, competition.language, choice, base="")

    def _written(self, page: str, language: str, choice: tuple[str, ...], *, base: str) -> Piece:
        """Write the page in a language; its files come from where they never change, which `base` leads to."""
        at = f"{base}at/{self._digest}"
        own = filled(page, catalogue(language), offered=choice)
        # As it stands the page works in its own folder too.
        return _piece(own.replace('="../', f'="{at}/').replace('="./', f'="{at}/{_PAGE}/').encode())

    def file(self, digest: str, name: str) -> Piece | None:
        """Give a file by the digest of all of them; None where there is none."""
        return self._kept.get(name) if digest == self._digest else None


def _short(name: str, data: bytes) -> bytes:
    """Leave out what only those who read the source need: comments, and how far lines are indented."""
    if name.endswith(".js"):
        return _INDENT.sub("", without_comments(data.decode())).encode()
    return _INDENT.sub("", _CSS_COMMENT.sub("", data.decode())).encode() if name.endswith(".css") else data


def _piece(data: bytes) -> Piece:
    return Piece(sha256(data).hexdigest()[:16], data, compress(data, 9, mtime=0))
