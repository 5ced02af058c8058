"""The keys that let a page send: for the table, the graphics desk and each lane, made once and kept by the journal."""

from __future__ import annotations

import hmac
import os
import secrets
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import orjson

from tallywire.core.errors import BadFile, Problem

_KEY_BYTES = 18


@dataclass(frozen=True, slots=True)
class Keys:
    """The table's key, the lanes' keys and the graphics desk's. They are left out of its `repr`, and so out of logs."""

    table: str = field(repr=False)
    lanes: Mapping[int, str] = field(repr=False)
    desk: str = field(repr=False, default="")

    def lane(self, number: int) -> str:
        """Give a lane's key. Raises KeyError for a lane that no heat has."""
        return self.lanes[number]

    def opens(self, role: str, lane: int | None, key: str) -> bool:
        """Tell whether the key is the one for the role; takes as long for a wrong key as for the right one."""
        right = {"table": self.table, "desk": self.desk}.get(role) or self.lanes.get(lane or 0)
        return right is not None and right != "" and hmac.compare_digest(right.encode(), key.encode())


def make_keys(lanes: Iterable[int], *, known: Keys | None = None) -> Keys:
    """Make a key for the table, for the desk and for each lane; those already known stay."""
    old = Keys("", {}) if known is None else known
    fresh = {number: old.lanes.get(number) or secrets.token_urlsafe(_KEY_BYTES) for number in lanes}
    table, desk = (known or secrets.token_urlsafe(_KEY_BYTES) for known in (old.table, old.desk))
    return Keys(table, {**old.lanes, **fresh}, desk)


def load_keys(path: Path, lanes: Iterable[int]) -> Keys:
    """Read the keys, making the file or what it lacks. Only its owner may read it. Raises BadFile."""
    known = None
    if path.exists():
        # A copy or a restored backup may be readable to others; on a read-only disk it stays so.
        with suppress(OSError):
            path.chmod(0o600)
        known = _read(path)
    keys = make_keys(lanes, known=known)
    if keys != known:
        _write(path, keys)
    return keys


def _read(path: Path) -> Keys:
    try:
        data = orjson.loads(path.read_bytes())
        lanes = {int(number): str(key) for number, key in data["lanes"].items()}
        # A file from before there was a desk has no key for it: one is added.
        return Keys(str(data["table"]), lanes, str(data.get("desk", "")))
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as exc:
        problem = Problem("the file", type(exc).__name__, "table and lanes; delete it and hand out new links")
        raise BadFile(str(path), [problem]) from exc


def _write(path: Path, keys: Keys) -> None:
    lanes = {str(number): key for number, key in sorted(keys.lanes.items())}
    data = {"table": keys.table, "desk": keys.desk, "lanes": lanes}
    beside = path.with_name(f"{path.name}.new")
    beside.unlink(missing_ok=True)
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(orjson.dumps(data, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE))
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
