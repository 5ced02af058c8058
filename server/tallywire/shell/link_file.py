"""The file that keeps the links of a data folder. Only its owner may read it, though it holds hashes alone."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Protocol

import orjson
from pydantic import TypeAdapter, ValidationError

from tallywire.core.errors import BadFile, JournalFailed, Problem
from tallywire.shell.data_folder import write_private
from tallywire.shell.links import Link, Links

_log = logging.getLogger(__name__)


@cache
def _links() -> TypeAdapter[list[Link]]:
    """Make what checks links, when some are read: a first start does without."""
    return TypeAdapter(list[Link])


class SharedLinks(Protocol):
    """Where several servers have their links together: what the file holds, as bytes."""

    def read(self) -> bytes | None:
        """Give what was written last, None when there is nothing yet. Raises JournalFailed."""
        ...

    def write(self, data: bytes) -> None:
        """Keep this from now on. Raises JournalFailed."""
        ...


class LinkKeeper:
    """Keeps links in a file, in `copies` of it, and where servers share them, which then counts before the file."""

    def __init__(self, path: Path, *, copies: Sequence[Path] = (), shared: SharedLinks | None = None) -> None:
        self._paths = (path, *copies)
        self._shared = shared
        self.salt = secrets.token_bytes(16)

    def load(self) -> list[Link]:
        """Read the links, none when there is nothing yet. Raises BadFile, or JournalFailed where servers share them."""
        data = self._shared.read() if self._shared is not None else None
        path = self._paths[0]
        if data is None and path.exists():
            data = _bytes_of(path)
        if data is None:
            return []
        self.salt, links = _parsed(path, data)
        return links

    def keep(self, links: Sequence[Link]) -> None:
        """Write everything. A failure is only logged, because a link that is taken back ends at once all the same."""
        kept = {"salt": self.salt.hex(), "links": [asdict(link) for link in links]}
        data = orjson.dumps(kept, option=orjson.OPT_INDENT_2)
        for path in self._paths:
            try:
                write_private(path, data)
            except OSError as exc:
                _log.error(
                    "cannot write %s (%s): after a restart the links are as before this change", path, exc.strerror
                )
        try:
            if self._shared is not None:
                self._shared.write(data)
        except JournalFailed as exc:
            _log.error("cannot share the links (%s): other servers have them as before this change", exc)


def load_links(path: Path, *, now_ms: Callable[[], int], copies: Sequence[Path] = ()) -> Links:
    """Read the links (none when there is no file yet); changes are written to the file and to `copies`.

    Raises BadFile.
    """
    keeper = LinkKeeper(path, copies=copies)
    links = keeper.load()
    return Links(links, now_ms=now_ms, keep=keeper.keep, salt=keeper.salt)


def _bytes_of(path: Path) -> bytes:
    # A copy or a restored backup may be readable to others; on a read-only disk it stays so.
    with suppress(OSError):
        path.chmod(0o600)
    try:
        return path.read_bytes()
    except OSError as exc:
        raise _unreadable(path, exc) from exc


def _parsed(path: Path, data: bytes) -> tuple[bytes, list[Link]]:
    try:
        kept = orjson.loads(data)
        return bytes.fromhex(kept["salt"]), _links().validate_python(kept["links"])
    except (ValueError, KeyError, TypeError, ValidationError) as exc:
        raise _unreadable(path, exc) from exc


def _unreadable(path: Path, exc: Exception) -> BadFile:
    problem = Problem("the file", type(exc).__name__, "salt and links; delete it and hand out new links")
    return BadFile(str(path), [problem])
