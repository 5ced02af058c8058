"""The slips of the crew's links as one page to print and cut."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from html import escape

from babel.dates import format_datetime

from tallywire.cli.html_report import PAGE_CSS, page
from tallywire.web.slips import Slip, qr_path
from tallywire.wire.catalogue import Catalogue
from tallywire.wire.link_words import link_title

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
_OPEN = ("board", "gaps", "call")


def open_slips(address: str, outputs: Sequence[str], floors: Mapping[str, str], words: Catalogue) -> list[Slip]:
    """Give slips for the pages that need no key: the venue board, the gap feed, the call, and each output on air.

    Of several `floors`, named by their ids, each has pages of its own.
    """
    plain = [(words.say(f"paper.open.{each}"), f"{each}/") for each in _OPEN]
    floored = [
        (words.say("paper.on_floor", what=title, floor=name), f"{path}?floor={floor}")
        for floor, name in floors.items()
        for title, path in plain
    ]
    on_air = [(words.say("paper.on_air", output=name), f"air/?output={name}") for name in outputs]
    pages = [*(floored or plain), *on_air]
    return [_open_slip(title, f"{address}/{path}") for title, path in pages]


def _open_slip(title: str, url: str) -> Slip:
    size, path = qr_path(url)
    return Slip(id="", title=title, label="", url=url, code="", expires_ms=0, size=size, path=path)


def title_of(slip: Slip, words: Catalogue) -> str:
    """Say what a slip opens."""
    return link_title(words, slip.role, slip.lane, slip.floor) if slip.role else slip.title


def link_sheet(slips: Sequence[Slip], words: Catalogue, *, fingerprint: str | None) -> str:
    """Give the page. `fingerprint` is that of the certificate about which the devices will ask."""
    proof = ""
    if fingerprint:
        proof = f"<p>{escape(words.say('paper.proof', fingerprint=fingerprint))}</p>\n"
    title = words.say("paper.crew_links")
    head = f"<h1>{escape(title)}</h1>\n<p>{escape(words.say('paper.crew_note'))}</p>\n"
    items = "\n".join(_item(slip, fingerprint, words) for slip in slips)
    return page(title, f'{head}{proof}<ul class="slips">\n{items}\n</ul>', words, css=_CSS)


def _item(slip: Slip, fingerprint: str | None, words: Catalogue) -> str:
    code = escape(words.say("paper.qr"))
    picture = f'<svg viewBox="0 0 {slip.size} {slip.size}" role="img" aria-label="{code}"><path d="{slip.path}"/></svg>'
    home = slip.url.partition("/")[0] + "//" + slip.url.split("/")[2]
    lines = [f"<h2>{escape(title_of(slip, words))}</h2>"]
    lines += [f"<p>{escape(slip.label)}</p>"] if slip.label else []
    if slip.code:
        ends = datetime.fromtimestamp(slip.expires_ms / 1000)
        until = words.listed([format_datetime(ends, "EEEE", locale=words.language), f"{ends:%H:%M}"])
        lines += [f"<p>{escape(words.say('paper.no_camera', address=home))}</p>"]
        lines += [f'<p class="code">{slip.code}</p>']
        lines += [f'<p class="small">{escape(words.say("paper.until", time=until, link=slip.id))}</p>']
    else:
        lines += [f'<p class="small">{escape(slip.url)}</p>']
    lines += (
        [f'<p class="small">{escape(words.say("paper.certificate", fingerprint=fingerprint))}</p>']
        if fingerprint
        else []
    )
    return f"<li>{picture}<div>{''.join(lines)}</div></li>"
