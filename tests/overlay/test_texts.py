"""No page has words of its own: what looks like a text in a module or an index.html stands in the catalogues."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

HERE = Path(__file__).parent
OVERLAY = HERE.parents[1] / "overlay"
INNOCENT = re.compile(
    r"""
    \((?:prefers|max-aspect)                                   # media queries
    | ^(?:ArrowDown|ArrowUp|Enter|Escape|Tab|Shift|Control|Alt|Meta|Dead|Unidentified)$   # keys
    | ^(?:Process|Space|Backspace|Delete|Del)$
    | ^(?:Bearer\ …|Content-Type|BroadcastChannel|Tallywire-Pages|Clamp)$    # protocols, names of the platform
    | ^tallywire | ^[\d.]+\ \d+px\ Asap$ | ^\d+\ \d+px          # stored keys, faces
    | ^…\ is\ not\ of\ this\ program$ | ^found\ …              # for the console
    | ^(?:lane|division|entry|lead|out|round|finish)\ [… ]+$    # keys of rows and lines
    | ^row\ rank\ fresh$ | ^Aā0$ | ^…\ kg$   # a class, a face, a load
    | ^…\ reps$ | ^problem\ …$   # a count as frames have it, an id
    | ^[a-z]+(?:-[a-z]+)*(?:\ [a-z]+(?:-[a-z]+)*)?$   # classes: such short texts go unseen
    """,
    re.VERBOSE,
)


def texts(folder: Path = OVERLAY) -> list[tuple[str, str]]:
    """Give what looks like a text in the modules of a folder."""
    said = subprocess.run(["node", HERE / "texts.js", folder], capture_output=True, text=True, check=True, cwd=HERE)
    return [(file, text) for file, text in json.loads(said.stdout) if not INNOCENT.search(text)]


def page_texts(folder: Path = OVERLAY) -> list[tuple[str, str]]:
    """Give the words between the tags of the pages, and those of labels, titles and placeholders."""
    found = list[tuple[str, str]]()
    for path in sorted(folder.glob("*/index.html")):
        text = re.sub(r"\{\{[a-z_.]+\}\}|<kbd[^>]*>.*?</kbd>|<!--.*?-->|&\w+;", "", path.read_text(encoding="utf-8"))
        body = text[text.index("<body") :]
        said = re.findall(r">([^<>]*[A-Za-z]{2,}[^<>]*)<", body)
        said += re.findall(r'(?:aria-label|title|placeholder|alt)="([^"]*[A-Za-z]{2,}[^"]*)"', body)
        found += [(path.relative_to(folder).as_posix(), each.strip()) for each in said]
    return found


def test_pages_have_no_words_of_their_own() -> None:
    """Whatever a person reads stands in the catalogues."""
    assert [*texts(), *page_texts()] == []


def test_the_view_to_begin_with_has_no_words_of_its_own(tmp_path: Path) -> None:
    """Who copies docs/template-view.js copies no English: its texts come from the catalogues too."""
    shutil.copy(OVERLAY.parent / "docs" / "template-view.js", tmp_path)
    assert texts(tmp_path) == []


def test_a_planted_text_is_found(tmp_path: Path) -> None:
    """One in a module, one put together, one in a page and one in a label are found; a class and a key are not."""
    (tmp_path / "pad").mkdir()
    (tmp_path / "pad" / "a.js").write_text(
        'setText(a, "No link"); setText(b, `Lane ${n}`); make("row-name name"); say("pad.x");'
    )
    (tmp_path / "pad" / "index.html").write_text('<body><p aria-label="More">Undo {{pad.undo}}</p></body>')
    assert [text for _, text in texts(tmp_path)] == ["No link", "Lane …"]
    assert sorted(text for _, text in page_texts(tmp_path)) == ["More", "Undo"]
