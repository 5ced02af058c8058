"""The modules of a page as one script: each would be a request more, which costs browser and server processor time.

Each module stands in a block of its own, behind those that it needs: they run once, in the order of ECMA-262
§16.2.1.6, strict as all modules are. What is loaded by its name is a function, which runs when it is first asked for.
"""

from __future__ import annotations

import posixpath
from collections.abc import Collection, Mapping
from itertools import accumulate
from typing import NamedTuple

import orjson

from tallywire.core.errors import BadFile, Problem
from tallywire.web.modules import Import, Module, read_module

_LOADER = "const module$late = {}, module$later = async (name) => (module$late[name].run ??= module$late[name]());"


class JoinedScript(NamedTuple):
    """A script and its source map (ECMA-426 §9, an index map): each line of a module is found in its own file."""

    text: str
    source_map: str


class Modules:
    """Modules by their paths, each read once, when a page needs it. Raises BadFile for what is wrong with one."""

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._texts = texts
        self._ids = {path: f"module${number}" for number, path in enumerate(sorted(texts))}
        self._known: dict[str, Module] = {}
        self._blocks: dict[tuple[str, bool], str] = {}

    def joined(self, first: str, apart: Collection[str] = ()) -> JoinedScript:
        """Give the script of a page whose module is `first`; the modules `apart` stay, and are imported by it."""
        order, late = self._ordered(first, apart)
        folder, needed = posixpath.dirname(first), {need.path for path in order for need in self._module(path).needs}
        functions = set(late) - needed
        head = [f'import * as {self._ids[each]} from "./{posixpath.relpath(each, folder)}";' for each in apart]
        head.append(f"let {', '.join(self._ids[path] for path in order if path not in functions)};")
        head += self._loader(late, needed)
        blocks = [self._block(path, is_function=path in functions) for path in order]
        lines = accumulate((each.count("\n") for each in blocks), initial=1)
        top = "../" * len(folder.split("/")) if folder else ""
        sections = [self._section(path, top, line) for path, line in zip(order, lines, strict=False)]
        text = " ".join(head) + "\n" + "".join(blocks)
        return JoinedScript(text, orjson.dumps({"version": 3, "sections": sections}).decode())

    def _loader(self, late: list[str], needed: set[str]) -> list[str]:
        """Give what loads modules by their names; those that others need too have run by then."""
        known = [f"{_late(path)} = async () => {self._ids[path]};" for path in late if path in needed]
        return [_LOADER, *known] if late else []

    def _ordered(self, first: str, apart: Collection[str]) -> tuple[list[str], list[str]]:
        """Give the modules in the order in which they run, `first` the last, and those that are loaded by name."""
        if first not in self._texts:
            raise BadFile(first, [Problem("the file", "none", "the module that its page loads")])
        order, late = list[str](), list[str]()
        self._visit(first, order, [], apart)
        for path in order:  # it grows meanwhile
            for each in self._loaded_by(path):
                late.append(each)
                self._visit(each, order, [first], apart)
        return [*(path for path in order if path != first), first], late

    def _visit(self, path: str, order: list[str], above: list[str], apart: Collection[str]) -> None:
        """Put a module into the order, behind all that it needs."""
        if path in order:
            return
        for need in self._module(path).needs:
            ring = [*above, path]
            if need.path in ring:
                raise _wrong(path, need, " → ".join([*ring, need.path]), "modules that do not need each other")
            if need.path not in self._texts:
                raise _wrong(path, need, f"an import of {need.path}", "a file that is there")
            if path in apart:
                raise _wrong(path, need, f"an import of {need.path}", "none in a module that the page loads by itself")
            self._visit(need.path, order, ring, apart)
            if not self._module(need.path).exports(need.name):
                raise _wrong(path, need, f"an import of {need.name}", f"a name that {need.path} exports")
        if path not in apart:
            order.append(path)

    def _module(self, path: str) -> Module:
        if path not in self._known:
            self._known[path] = read_module(path, self._texts[path])
        return self._known[path]

    def _loaded_by(self, path: str) -> list[str]:
        folders = self._module(path).later
        return [each for each in sorted(self._texts) if posixpath.dirname(each) in folders] if folders else []

    def _section(self, path: str, top: str, line: int) -> dict[str, object]:
        """Map each line of a module to itself: AACA is the next line of the same source, at its beginning."""
        mappings = "AAAA" + ";AACA" * self._module(path).body.count("\n")
        own = {"version": 3, "sources": [f"{top}{path}"], "names": [], "mappings": mappings}
        return {"offset": {"line": line, "column": 0}, "map": own}

    def _block(self, path: str, *, is_function: bool) -> str:
        """Give a module's block, made once: several pages have it."""
        if (path, is_function) not in self._blocks:
            self._blocks[path, is_function] = self._made_block(path, is_function=is_function)
        return self._blocks[path, is_function]

    def _made_block(self, path: str, *, is_function: bool) -> str:
        module, taken = self._module(path), dict[str, list[str]]()
        for need in module.needs:
            if need.own:
                taken.setdefault(self._ids[need.path], []).append(_pair(need.name, need.own))
        begin = "".join(f"const {{ {', '.join(names)} }} = {each}; " for each, names in taken.items())
        passed = {name: f"{self._ids[need.path]}.{need.name}" for name, need in module.passes.items()}
        given = "{ " + ", ".join(_pair(name, own) for name, own in {**module.gives, **passed}.items()) + " }"
        inside = f"/* {path} */ {begin}{module.body}\n"
        if is_function:
            return f"{_late(path)} = async () => {{ {inside}return {given}; }};\n"
        return f"{{ {inside}{self._ids[path]} = {given}; }}\n"


def _pair(name: str, value: str) -> str:
    return name if name == value else f"{name}: {value}"


def _wrong(path: str, need: Import, found: str, expected: str) -> BadFile:
    return BadFile(path, [Problem(f"line {need.line}", found, expected)])


def _late(path: str) -> str:
    return f"module$late[{orjson.dumps(path).decode()}]"
