"""JSON Merge Patch (RFC 7396): what to send so that a watcher's frame becomes the newest one.

In a patch null removes a key, so a frame that holds null cannot be described by one; our frames never do.
"""

from __future__ import annotations

from typing import Any

_ABSENT = object()


def diff(old: Any, new: Any) -> Any:
    """Give the patch that turns `old` into `new`: an empty object when both objects are equal.

    `new` must be free of null. Values that Python calls equal count as equal (1 and 1.0 and true): a value of a frame
    keeps its type.
    """
    if not (isinstance(old, dict) and isinstance(new, dict)):
        return new
    patch: dict[str, Any] = {name: None for name in old if name not in new}
    for name, value in new.items():
        before = old.get(name, _ABSENT)
        if before is value or before == value:
            continue
        patch[name] = diff(before, value)
    return patch


def apply(target: Any, patch: Any) -> Any:
    """Give `target` with the patch applied (RFC 7396 §2); the target itself is left as it is."""
    if not isinstance(patch, dict):
        return patch
    merged = dict(target) if isinstance(target, dict) else {}
    for name, value in patch.items():
        if value is None:
            merged.pop(name, None)
        else:
            merged[name] = apply(merged.get(name), value)
    return merged
