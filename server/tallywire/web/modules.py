"""What a module of the pages imports and exports, and what is left of it: the forms of ECMA-262 §16.2 that we use.

Any other form is refused, so that nothing of a module gets lost when a page's modules become one script (`joined.py`).
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from tallywire.core.errors import BadFile, Problem

FORMS = (
    'import { a, b as c } from "./path.js"; · export const, class, function, async function · export { a, b as c }; · '
    'export { a } from "./path.js"; · import(`./path/${name}.js`), and no var outside of functions'
)
_NAMES = r"\{([\w$\s,]*)\}"
_FORM = re.compile(
    rf'\n(?:import {_NAMES} from "(\.[^"]+)";'
    rf'|export (?:{_NAMES}(?: from "(\.[^"]+)")?;|(?=(?:const|class|(?:async )?function) ([\w$]+))))'
)
"""It begins with the end of the line before: that is found in a third of the time that a line's beginning (^) takes."""
_LATER = re.compile(r"import\(`(\.[^`$]*/)\$\{([\w$]+)\}\.js`\)")
_STRANGE = re.compile(r"^var\b|\b(?:import|export)\b|module\$", re.MULTILINE)
_REMARK = re.compile(r"/\*[^*]*\*+(?:[^/*][^*]*\*+)*/")
_COMMENT = re.compile(rf"\n[ \t]*(?:{_REMARK.pattern}|//.*)[ \t]*(?=\n|\Z)")


class Import(NamedTuple):
    """A name that a module takes from another one; `own` is its name here, empty where it is only passed on."""

    line: int
    path: str
    name: str
    own: str


@dataclass(frozen=True, slots=True)
class Module:
    """A module without its imports and exports, on the same lines; `gives` has each export and its name in here."""

    body: str
    needs: list[Import]
    gives: dict[str, str]
    passes: dict[str, Import]
    later: list[str]
    """The folders from which it loads modules by their names."""

    def exports(self, name: str) -> bool:
        """Tell whether it exports a name."""
        return name in self.gives or name in self.passes


def without_comments(text: str) -> str:
    """Give a module with empty lines for those that hold nothing but a comment."""
    return _COMMENT.sub(_emptied, f"\n{text}")[1:]


def read_module(path: str, text: str) -> Module:
    """Read a module. Raises BadFile that names each line with a form that is not known."""
    bare = f"\n{without_comments(text)}"
    needs, passes, given, listed = list[Import](), dict[str, Import](), dict[str, str](), dict[str, str]()
    line, at = 0, 0
    for found in _FORM.finditer(bare):
        line, at = line + bare.count("\n", at, found.start() + 1), found.start() + 1
        imported, source, exported, passed_from, own_name = found.groups()
        if imported is not None:
            needs += _imports(line, _beside(path, source), imported)
        elif passed_from is not None:
            passes |= {each.own: each._replace(own="") for each in _imports(line, _beside(path, passed_from), exported)}
        elif exported is not None:
            listed |= {own: name for name, own in _pairs(exported)}
        else:
            given[own_name] = own_name
    body = _FORM.sub(_emptied, bare)[1:]
    problems = list(_strange(body))
    if problems:
        raise BadFile(path, problems)
    later = [_beside(path, found[1]) for found in _LATER.finditer(body)]
    body = _LATER.sub(lambda found: f"module$later(`{_beside(path, found[1])}/${{{found[2]}}}.js`)", body)
    return Module(body, [*needs, *passes.values()], given | listed, passes, later)


def _imports(line: int, path: str, names: str) -> list[Import]:
    return [Import(line, path, name, own) for name, own in _pairs(names)]


def _strange(body: str) -> Iterator[Problem]:
    """Name what is left of imports and exports when all known forms are taken out."""
    # Nearly all modules have none of the words, and to see that is quicker than to look where they are.
    if any(word in f"\n{body}" for word in ("import", "export", "module$", "\nvar")):
        rest = _REMARK.sub(_emptied, _LATER.sub("", body))
        for found in _STRANGE.finditer(rest):
            line = _line(rest, found)
            yield Problem(f"line {line}", rest.split("\n")[line - 1].strip()[:120], FORMS)


def _pairs(names: str) -> Iterator[tuple[str, str]]:
    """Give each name and what it becomes: `a, b as c` → a, a; b, c."""
    for each in filter(None, map(str.strip, names.split(","))):
        name, _, other = each.partition(" as ")
        yield name.strip(), (other or name).strip()


def _beside(path: str, other: str) -> str:
    return posixpath.normpath(posixpath.join(posixpath.dirname(path), other))


def _emptied(found: re.Match[str]) -> str:
    return "\n" * found[0].count("\n")


def _line(text: str, found: re.Match[str]) -> int:
    return text.count("\n", 0, found.start()) + 1
