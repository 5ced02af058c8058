"""What a story is told from: its figures and the labels of links follow the language."""

from __future__ import annotations

from core.samples import HEAT, Pad, competition
from tallywire.core.reports.story import RecordLine
from tallywire.shell.keys import make_keys
from tallywire.shell.links import Links
from tallywire.shell.told import crew_links, story_data
from tallywire.wire.catalogue import catalogue

NOW = 1_800_000_000_000


def test_a_story_has_the_decimal_mark_of_its_language() -> None:
    """Two reps at 1.2 s and 2.3 s: French and Spanish write a comma (CLDR), English a point."""
    pad = Pad("lane-1-a", 1)
    facts = [Pad("table-a").start(), pad.reps(1_200), pad.reps(2_300)]
    lines = [RecordLine(sender=each.sender, received_unix_ms=NOW + each.at_ms, fact=each) for each in facts]
    told = {
        language: " ".join(
            each["what"] for each in story_data(competition(), HEAT, lines, catalogue(language))["sentences"]
        )
        for language in ("en", "es", "fr")
    }
    assert "0:01.2 to 0:02.3" in told["en"]
    assert "0:01,2 a 0:02,3" in told["es"]
    assert "0:01,2 à 0:02,3" in told["fr"]


def test_links_printed_at_the_start_are_labelled_in_the_language() -> None:
    """What somebody wrote on a link stays as it is written; the server's own label is said."""
    links = Links(now_ms=lambda: NOW)
    links.begin(make_keys([]))
    labels = {each.label for each in crew_links(links.all(), competition(), catalogue("fr"))}
    assert labels == {"imprimé au démarrage"}
