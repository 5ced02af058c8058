"""The two forms of a line in the log: for people, and for programs that gather logs."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import UTC, datetime

import orjson

from tallywire.wire.senders import Received

LETTERS_MOST = 8192
_ABOUT = "about"


def about(**what: str | int) -> Mapping[str, Mapping[str, str | int]]:
    """Say what a line is about, such as the id of its fact, as `extra` of a call of the log."""
    return {_ABOUT: what}


def about_entry(entry: Received) -> Mapping[str, Mapping[str, str | int]]:
    """Say that a line is about a fact: its id where it has one, its sender and number, and why it was refused."""
    fact = orjson.loads(entry.body).get("id")
    why = {} if entry.refusal is None else {"code": str(orjson.loads(entry.refusal)["code"])}
    return about(
        sender=entry.sender, sequence=entry.sequence, **({"fact": fact} if isinstance(fact, str) else {}), **why
    )


class TextLine(logging.Formatter):
    """A line for people. `left_out` of the record says how many like it were not written before."""

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(message)s")

    def format(self, record: logging.LogRecord) -> str:
        """Write one record."""
        left_out = vars(record).get("left_out", 0)
        more = f" ({left_out} more like it were left out)" if left_out else ""
        return super().format(record)[:LETTERS_MOST] + more


class JsonLine(logging.Formatter):
    """One JSON object a line (RFC 8259): when, how bad, where in the program, the text, and what it is about."""

    def format(self, record: logging.LogRecord) -> str:
        """Write one record."""
        fields = vars(record)
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "where": f"{record.name}:{record.lineno}",
            "text": record.getMessage()[:LETTERS_MOST],
            **fields.get(_ABOUT, {}),
        }
        if fields.get("left_out"):
            line["left_out"] = fields["left_out"]
        if record.exc_info:
            line["error"] = self.formatException(record.exc_info)[-LETTERS_MOST:]
        return orjson.dumps(line).decode()


LOG_FORMS: Mapping[str, type[logging.Formatter]] = {"text": TextLine, "json": JsonLine}
"""By the name of the option."""
