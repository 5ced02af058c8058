"""What examining a journal found, and the chain that is followed to find it; the same for every place of a journal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tallywire.core.errors import JournalDamaged
from tallywire.shell.journal.chain import GENESIS, chained, following
from tallywire.shell.journal.port import Line, Row, line_of
from tallywire.shell.journal.seal import Seal

_FAULTS_SHOWN = 10
_TYPES = (int, int, str, int, bytes)


@dataclass(slots=True, kw_only=True)
class Findings:
    """What was found: `last` and `head` end the chain as it is; `bad` are the lines that are there but not sound.

    `where` names the journal, and `named` is what `tallywire verify` calls it. `faults` are damage; `remarks` are
    harmless to every fact. Both are in the order of the journal. A journal on Redis has an `epoch` and no version; its
    state, which is written with each line, is its seal.
    """

    where: str
    named: str
    version: int = 0
    epoch: int | None = None
    seal: Seal | None = None
    last: int = 0
    head: bytes = GENESIS
    bad: list[int] = field(default_factory=list)
    missing: list[range] = field(default_factory=list)
    notes: dict[str, str] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    @property
    def sound(self) -> list[range]:
        """The runs of numbers whose lines are sound."""
        edges = sorted([*((n, n + 1) for n in self.bad), *((gap.start, gap.stop) for gap in self.missing)])
        runs, start = [], 1
        for stop, after in [*edges, (self.last + 1, self.last + 1)]:
            if start < stop:
                runs.append(range(start, min(stop, self.last + 1)))
            start = max(start, after)
        return runs

    def raise_damage(self) -> None:
        """Raise JournalDamaged when there are faults, with the first of them and how to go on."""
        if self.faults:
            more = f" (and {len(self.faults) - 1} more)" if self.faults[1:] else ""
            raise JournalDamaged(
                f"found damage in the journal {self.where}: {self.faults[0]}{more}; sound: {runs_text(self.sound)}. "
                f"Nothing was changed. `tallywire verify {self.named}` says all; with `--salvage NEW` it writes "
                "what is sound to a new folder, to go on with `--data NEW`"
            )


def runs_text(runs: list[range]) -> str:
    """Give runs of line numbers in words."""
    texts = [f"line {run.start}" if len(run) == 1 else f"lines {run.start} to {run.stop - 1}" for run in runs]
    return ", ".join(texts[:_FAULTS_SHOWN]) + (" …" if texts[_FAULTS_SHOWN:] else "") or "no line"


class ChainReader:
    """Follows the chain from line to line; lines after a damaged one can still be proven."""

    def __init__(self, found: Findings) -> None:
        self._found = found
        self._has_chain = found.version > 1 or found.epoch is not None
        self._before = [GENESIS]
        self._doubtful: Line | None = None

    def follow(self, rows: Sequence[Row]) -> Sequence[Row]:
        """Take the next rows, each a line's values and its chain, and give those that are proven by it, in order."""
        on = self._on(rows)
        if on == len(rows):
            return rows
        proven = list(rows[:on])
        for row in rows[on:]:
            line = line_of(row)
            proven += (line,) if self.goes_on(line, row[-1]) else self.add(line, row[-1])
        return proven

    def _on(self, rows: Sequence[Row]) -> int:
        """Take as many of these rows as are as they should be."""
        found = self._found
        if not self._has_chain or len(self._before) > 1:
            return 0
        on = following(found.head, rows, number=found.last + 1)
        if on:
            found.last, found.head = rows[on - 1][0], rows[on - 1][-1]
            self._before[0], self._doubtful = found.head, None
        return on

    def goes_on(self, line: Line, chain: object) -> bool:
        """Take the next line if it is as it should be. Most lines are, so this has to be cheap."""
        found = self._found
        if len(self._before) > 1 or line.number != found.last + 1:
            return False
        try:
            made = chained(found.head, line)
        except (TypeError, AttributeError):
            return False
        if made != chain and self._has_chain:
            return False
        found.last, found.head = line.number, made
        self._before[0], self._doubtful = made, None
        return True

    def add(self, line: Line, chain: object) -> list[Line]:
        """Take the next line that was read with its chain, and give the lines that are proven by it, in order."""
        found = self._found
        follows = line.number == found.last + 1
        if not follows:
            self._note_gap(range(found.last + 1, line.number))
        found.last = line.number
        made = self._made(line)
        if not self._has_chain and made:
            chain = made[0]
        is_sound = isinstance(chain, bytes) and chain in made
        proven = self._proven(line, is_next=chain == made[0]) if is_sound else []
        if not is_sound:
            self._note_bad(line, follows=follows)
        found.head = chain if isinstance(chain, bytes) else GENESIS
        # In a damaged line either the bytes or the checksum may be intact: the next line shows which.
        self._before = [found.head, *(() if is_sound else made[:1])]
        self._doubtful = line if made and not is_sound and follows else None
        return proven

    def _proven(self, line: Line, *, is_next: bool) -> list[Line]:
        if is_next or self._doubtful is None:
            return [line]
        self._found.bad.remove(self._doubtful.number)
        return [self._doubtful, line]

    def _made(self, line: Line) -> list[bytes]:
        typed = all(isinstance(value, kind) for value, kind in zip(line, _TYPES, strict=False))
        if not typed or not isinstance(line.refusal, bytes | None):
            return []
        return [chained(before, line) for before in self._before]

    def _note_gap(self, gap: range) -> None:
        self._found.missing.append(gap)
        self._found.faults.append(f"{runs_text([gap])} missing")

    def _note_bad(self, line: Line, *, follows: bool) -> None:
        why = "its checksum does not fit" if follows else "the one before it is missing, so nothing proves it"
        self._found.bad.append(line.number)
        self._found.faults.append(f"line {line.number} is not sound: {why}")
