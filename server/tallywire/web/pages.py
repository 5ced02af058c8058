"""The pages as files."""

from __future__ import annotations

import mimetypes
from pathlib import Path

from starlette.staticfiles import StaticFiles

# Otherwise the machine's own table decides, and some machines call scripts text/plain, which browsers refuse.
_TYPES = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml", ".woff2": "font/woff2"}


def page_files(folder: Path) -> StaticFiles:
    """Serve the folder's files; a folder's `index.html` stands for the folder."""
    for suffix, kind in _TYPES.items():
        mimetypes.add_type(kind, suffix)
    return StaticFiles(directory=folder, html=True)
