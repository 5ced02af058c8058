"""What in the pages serves nothing: modules and exports nobody imports, classes nobody wears, properties nobody reads.

The pages have no build step, so nothing else would notice. Modules are read as text: an import is a name between braces
in front of a path, and so is a type that a comment imports.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

_COMMENT = re.compile(r"/\*.*?\*/|(?<![:\"'`\\])//[^\n]*", re.DOTALL)
_IMPORT = re.compile(r'\bimport\s*\{([^}]*)\}\s*from\s*"([^"]+)"|\bimport\s*"([^"]+)"')
_TYPE_IMPORT = re.compile(r'import\("([^"]+)"\)')
_DYNAMIC = re.compile(r"import\(`([^`$]+)\$\{\w+\}\.js`\)\)?\.(\w+)")
_EXPORT = re.compile(r"^export (?:async )?(?:function\*?|const|let|class) (\w+)", re.MULTILINE)
_TEXT = re.compile(r'"[^"\n]*"|\'[^\'\n]*\'|`[^`]*`')
_SCRIPT = re.compile(r'<script [^>]*src="([^"]+)"')
_WORKER = re.compile(r'serviceWorker\.register\("([^"]+)"\)')
_SHEET = re.compile(r'<link rel="stylesheet" href="([^"]+)"')


@dataclass(slots=True)
class Module:
    """A module: what it exports, and what it imports of which other module; code is without comments."""

    code: str
    exports: list[str]
    imports: dict[Path, set[str]] = field(default_factory=dict)


@dataclass(slots=True)
class Pages:
    """A folder of pages as it stands on disk."""

    folder: Path
    modules: dict[Path, Module]
    sheets: dict[Path, str]

    @property
    def pages(self) -> list[Path]:
        """Every page's index.html."""
        return sorted(self.folder.glob("*/index.html"))

    def within(self, page: Path) -> set[Path]:
        """Every module that runs on a page."""
        found: set[Path] = set()
        waiting = [(page.parent / src).resolve() for src in _SCRIPT.findall(page.read_text(encoding="utf-8"))]
        while waiting:
            path = waiting.pop()
            if path in found or path not in self.modules:
                continue
            found.add(path)
            waiting += self.modules[path].imports
        return found


def read_pages(folder: Path) -> Pages:
    """Read every module and every style sheet below a folder."""
    folder = folder.resolve()
    modules = {path: _module(path) for path in sorted(folder.rglob("*.js"))}
    sheets = {path: _bare(path) for path in sorted(folder.rglob("*.css"))}
    return Pages(folder, modules, sheets)


def _bare(path: Path) -> str:
    return _COMMENT.sub("", path.read_text(encoding="utf-8"))


def _module(path: Path) -> Module:
    text = path.read_text(encoding="utf-8")
    module = Module(code=_bare(path), exports=_EXPORT.findall(text))
    for names, source, plain in _IMPORT.findall(module.code):
        wanted = {name.split(" as ")[0].strip() for name in names.split(",")} - {""}
        module.imports.setdefault((path.parent / (source or plain)).resolve(), set()).update(wanted)
    for source, name in _DYNAMIC.findall(module.code):
        for each in (path.parent / source).glob("*.js"):
            module.imports.setdefault(each.resolve(), set()).add(name)
    for source in _WORKER.findall(module.code):
        module.imports.setdefault((path.parent / source).resolve(), set())
    for source in _TYPE_IMPORT.findall(text):
        module.imports.setdefault((path.parent / source).resolve(), set())
    return module


def unused_exports(pages: Pages, *, test_only: frozenset[str] = frozenset()) -> Iterator[str]:
    """Name what no page imports: whole modules, and exports as `folder/module.js: name` unless they are for tests."""
    running = set().union(*(pages.within(page) for page in pages.pages))
    for path, module in pages.modules.items():
        name = path.relative_to(pages.folder)
        if path not in running:
            yield f"{name}: no page runs it"
            continue
        others = [each.imports.get(path, set()) for each in pages.modules.values()]
        wanted = set().union(*others)
        for export in module.exports:
            if export not in wanted and f"{name}: {export}" not in test_only:
                yield f"{name}: {export}"


def unused_classes(pages: Pages) -> Iterator[str]:
    """Name every class in a style sheet that no page with this sheet gives to anything."""
    words = {page: _words(pages, page) for page in pages.pages}
    links = {page: _links(page) for page in pages.pages}
    for path, text in pages.sheets.items():
        worn = set().union(*(words[page] for page in pages.pages if path in links[page]))
        selectors = re.sub(r"\{[^{}]*\}", "{}", re.sub(r'url\([^)]*\)|"[^"]*"', "", text))
        for each in sorted(set(re.findall(r"\.([a-z][\w-]*)", selectors)) - worn):
            yield f"{path.relative_to(pages.folder)}: .{each}"


def _links(page: Path) -> set[Path]:
    return {(page.parent / href).resolve() for href in _SHEET.findall(page.read_text(encoding="utf-8"))}


def _words(pages: Pages, page: Path) -> set[str]:
    """Every word that may be a class on a page: of its markup's classes, and of every text in its modules."""
    texts = re.findall(r'class="([^"]*)"', page.read_text(encoding="utf-8"))
    for path in pages.within(page):
        texts += _TEXT.findall(pages.modules[path].code)
    return {word for text in texts for word in re.findall(r"[\w-]+", text)}


def unused_properties(pages: Pages) -> Iterator[str]:
    """Name every custom property that has a value but is never read, and every one that is read but has no value."""
    css = "\n".join(pages.sheets.values())
    code = "\n".join(module.code for module in pages.modules.values())
    given = set(re.findall(r"(?<![\w-])(--[a-z][\w-]*)\s*:", css)) | set(re.findall(r'"(--[a-z][\w-]*)"', code))
    read = set(re.findall(r"var\(\s*(--[a-z][\w-]*)", css + code))
    yield from (f"{each}: given but never read" for each in sorted(given - read))
    yield from (f"{each}: read but never given" for each in sorted(read - given))
