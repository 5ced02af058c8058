"""Tables as Python's csv module writes them, for the page that reads what is pasted from a spreadsheet.

python tests/overlay/make_vectors.py    writes make_vectors.json anew; the source beside it is RFC 4180 section 2.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

TARGET = Path(__file__).with_name("make_vectors.json")
TABLES = (
    [["name", "division", "home"], ["Runa Ostrovik", "Open", "Iron Quay"]],
    [["name", "home"], ['Dela "Ace" Marchbank', "Tidewall; East"], ["Ishaan, the third", "North\tQuay"]],
    [["name", "home"], ["in two\nlines", ""], ["نور الهدى", "孙"], ["=1+1", '"']],
    [["name"], ["Ada"], ["Bo"]],
)


def vectors() -> list[dict[str, object]]:
    """Give each table as text with each separator, and the cells that the csv module reads from it."""
    made: list[dict[str, object]] = []
    for table in TABLES:
        for separator in "\t;,":
            text = io.StringIO(newline="")
            csv.writer(text, delimiter=separator, lineterminator="\r\n").writerows(table)
            rows = list(csv.reader(io.StringIO(text.getvalue(), newline=""), delimiter=separator))
            made.append({"text": text.getvalue(), "rows": rows})
    return made


if __name__ == "__main__":
    TARGET.write_text(json.dumps(vectors(), ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
