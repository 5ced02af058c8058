"""The slips of the crew's links as one page to print and cut."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from html import escape

from tallywire.cli.html_report import PAGE_CSS, page
from tallywire.web.slips import Slip, qr_path

_CSS = (
    PAGE_CSS
    + """
.slips { display: grid; grid-template-columns: 1fr 1fr; gap: 0; margin: 0; padding: 0; list-style: none; }
.slips li { display: grid; grid-template-columns: 40mm 1fr; gap: 4mm; padding: 5mm; min-height: 52mm;
  border: 0.2mm dashed #777; break-inside: avoid; }
.slips h2 { margin: 0 0 1mm; font-size: 15pt; }
.slips svg { width: 40mm; height: 40mm; }
.code { font: 700 17pt/1.2 ui-monospace, monospace; letter-spacing: 0.12em; }
.small { font-size: 7.5pt; overflow-wrap: anywhere; }
"""
)
_OPEN = (("venue board", "board/"), ("gap feed", "gaps/"), ("the call", "call/"))


def open_slips(address: str, outputs: Sequence[str], floors: Mapping[str, str]) -> list[Slip]:
    """Give slips for the pages that need no key: the venue board, the gap feed, the call, and each output on air.

    Of several `floors`, named by their ids, each has pages of its own.
    """
    floored = [(f"{title}, {name}", f"{path}?floor={floor}") for floor, name in floors.items() for title, path in _OPEN]
    pages = [*(floored or _OPEN), *((f"on air, {name}", f"air/?output={name}") for name in outputs)]
    return [_open_slip(title, f"{address}/{path}") for title, path in pages]


def _open_slip(title: str, url: str) -> Slip:
    size, path = qr_path(url)
    return Slip(id="", title=title, label="", url=url, code="", expires_ms=0, size=size, path=path)


def link_sheet(slips: Sequence[Slip], *, fingerprint: str | None) -> str:
    """Give the page. `fingerprint` is that of the certificate about which the devices will ask."""
    proof = ""
    if fingerprint:
        proof = f"<p>Certificate (SHA-256): <b>{escape(fingerprint)}</b>. Compare it when the browser asks.</p>\n"
    head = "<h1>Links of the crew</h1>\n<p>Cut along the lines. Anyone who has a slip can do what it says.</p>\n"
    items = "\n".join(_item(slip, fingerprint) for slip in slips)
    return page("Links of the crew", f'{head}{proof}<ul class="slips">\n{items}\n</ul>', css=_CSS)


def _item(slip: Slip, fingerprint: str | None) -> str:
    picture = (
        f'<svg viewBox="0 0 {slip.size} {slip.size}" role="img" aria-label="QR code of the link">'
        f'<path d="{slip.path}"/></svg>'
    )
    home = slip.url.partition("/")[0] + "//" + slip.url.split("/")[2]
    lines = [f"<h2>{escape(slip.title)}</h2>"]
    lines += [f"<p>{escape(slip.label)}</p>"] if slip.label else []
    if slip.code:
        until = datetime.fromtimestamp(slip.expires_ms / 1000).strftime("%A, %H:%M")
        lines += [f'<p>No camera? Open {escape(home)} and type, once:</p><p class="code">{slip.code}</p>']
        lines += [f'<p class="small">Good until {until}. Link {slip.id}</p>']
    else:
        lines += [f'<p class="small">{escape(slip.url)}</p>']
    lines += [f'<p class="small">Certificate: {escape(fingerprint)}</p>'] if fingerprint else []
    return f"<li>{picture}<div>{''.join(lines)}</div></li>"
