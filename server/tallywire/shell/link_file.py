"""The file that keeps the links of a data folder. Only its owner may read it, though it holds hashes alone."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import asdict
from functools import partial
from pathlib import Path

import orjson
from pydantic import TypeAdapter, ValidationError

from tallywire.core.errors import BadFile, Problem
from tallywire.shell.data_folder import write_private
from tallywire.shell.links import Link, Links

_LINKS: TypeAdapter[list[Link]] = TypeAdapter(list[Link])
_log = logging.getLogger(__name__)


def load_links(path: Path, *, now_ms: Callable[[], int], copies: Sequence[Path] = ()) -> Links:
    """Read the links (none when there is no file yet); changes are written to the file and to `copies`.

    Raises BadFile.
    """
    salt, links = _read(path) if path.exists() else (secrets.token_bytes(16), [])
    keep = partial(_write_all, (path, *copies), salt)
    return Links(links, now_ms=now_ms, keep=keep, salt=salt)


def _read(path: Path) -> tuple[bytes, list[Link]]:
    # A copy or a restored backup may be readable to others; on a read-only disk it stays so.
    with suppress(OSError):
        path.chmod(0o600)
    try:
        data = orjson.loads(path.read_bytes())
        return bytes.fromhex(data["salt"]), _LINKS.validate_python(data["links"])
    except (OSError, ValueError, KeyError, TypeError, ValidationError) as exc:
        problem = Problem("the file", type(exc).__name__, "salt and links; delete it and hand out new links")
        raise BadFile(str(path), [problem]) from exc


def _write_all(paths: Sequence[Path], salt: bytes, links: Sequence[Link]) -> None:
    """Write every file. A failure is only logged, because a link that is taken back ends at once all the same."""
    data = orjson.dumps({"salt": salt.hex(), "links": [asdict(link) for link in links]}, option=orjson.OPT_INDENT_2)
    for path in paths:
        try:
            write_private(path, data)
        except OSError as exc:
            _log.error("cannot write %s (%s): after a restart the links are as before this change", path, exc.strerror)
