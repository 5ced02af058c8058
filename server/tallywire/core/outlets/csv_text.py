"""CSV as in RFC 4180: a header line, CRLF at the end of every line, quotes where a field needs them."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence

_FORMULA = re.compile(r"['\0\t\r\n]|\s*[=+\-@＝＋－＠]")
"""What makes a text a formula in a spreadsheet, with the wide forms (OWASP ASVS 5, 1.2.10), and the apostrophe itself.
"""


def csv_text(records: Sequence[Mapping[str, object]], columns: Sequence[str] = ()) -> str:
    """Give flat records as CSV. The columns are those of the first record unless named.

    None is an empty field, True and False are 1 and 0. Fields with commas, quotes or line breaks are quoted and quotes
    in them doubled (RFC 4180, section 2, rules 5 to 7); every line ends with CRLF (rules 1 and 2). A text that a
    spreadsheet would take for a formula, or that begins with an apostrophe, gets one apostrophe in front: removing one
    from each field that begins with it gives the texts back as they were.
    """
    names = list(columns or (records[0] if records else ()))
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([_field(name) for name in names])
    writer.writerows([[_field(record[name]) for name in names] for record in records])
    return text.getvalue()


def _field(value: object) -> object:
    if isinstance(value, str):
        return f"'{value}" if _FORMULA.match(value) else value
    return int(value) if isinstance(value, bool) else value
