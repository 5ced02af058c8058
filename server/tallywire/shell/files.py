"""Reading the files a person names, and finding what ships with the package."""

from __future__ import annotations

from pathlib import Path

from tallywire.core.errors import BadFile, Problem
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition
from tallywire.shell.collection import uncollected
from tallywire.shell.data_folder import journal_in
from tallywire.shell.journal.reading import sound_lines
from tallywire.wire.checked_recording import Bundle, CheckedRecording, is_checked, read_checked
from tallywire.wire.competition_file import read_competition
from tallywire.wire.plain_text import plain_text, without_mark
from tallywire.wire.recording import read_lines, recorded_lines
from tallywire.wire.toml_lines import located
from tallywire.wire.trusted_lines import trusted_facts

_PACKAGE = Path(__file__).resolve().parents[1]
_FILE_LIMIT = 256 * 1024 * 1024
_ATTACHED_LIMIT = 16 * 1024 * 1024


def assets(name: str) -> Path:
    """Give the folder of shipped assets, `overlay` or `scenarios`; in a checkout, the checkout's own."""
    checkout = _PACKAGE.parents[1]
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    return _PACKAGE / "_assets" / name


def load_competition(path: Path) -> Competition:
    """Read a competition file with its start lists. Raises BadFile."""
    return load_whole(path)[0]


def load_bundle(path: Path) -> Bundle:
    """Read a competition file and every file it names, as bytes. Raises BadFile."""
    return load_whole(path)[1]


def load_whole(path: Path) -> tuple[Competition, Bundle]:
    """Read a competition file, and give with it every file it names, as bytes. Raises BadFile."""
    held = held_in(path)
    if held is not None:
        return competition_of(held, name=f"{path}, {held.main}"), held
    folder, text, files = path.resolve().parent, load_text(path), {path.name: _bytes(path)}

    def keep(name: str) -> bytes:
        files[name] = attached(folder, name)
        return files[name]

    try:
        competition = read_competition(str(path), text, keep)
    except BadFile as exc:
        raise BadFile(exc.name, located(exc.problems, text)) from exc
    return competition, Bundle(main=path.name, files=files)


def competition_of(bundle: Bundle, *, name: str) -> Competition:
    """Read a competition from a bundle. Raises BadFile."""

    def attached(file: str) -> bytes:
        if file not in bundle.files:
            raise OSError("not in the bundle")
        return bundle.files[file]

    return read_competition(name, without_mark(bundle.files[bundle.main]).decode(errors="replace"), attached)


def held_in(path: Path) -> Bundle | None:
    """Give the competition that a recording holds, None for any other file. Raises BadFile."""
    checked = load_checked(path)
    return None if checked is None else checked.competition


def load_checked(path: Path) -> CheckedRecording | None:
    """Read a recording with checksums, None when it is any other file. Raises BadFile when it is damaged."""
    if path.is_dir():
        return None
    text = without_mark(_bytes(path))
    return read_checked(str(path), text) if is_checked(text) else None


def load_recording(path: Path, *, until_line: int | None = None) -> list[Fact]:
    """Read a recording, or the journal in a server's data folder, up to a line of it. Raises BadFile."""
    if path.is_dir():
        with uncollected():
            facts = trusted_facts(_journal_bodies(path, until_line))
        if not facts:
            raise BadFile(str(path), [Problem("the journal", "no facts", "a journal with facts")])
        return facts
    lines = recorded_lines(str(path), without_mark(_bytes(path)))
    _check_line(path, until_line, len(lines))
    return read_lines(str(path), lines[:until_line])


def _check_line(path: Path, line: int | None, count: int) -> None:
    if line is not None and not 1 <= line <= count:
        raise BadFile(str(path), [Problem("line", str(line), f"a line from 1 to {count}: see --as-of")])


def _journal_bodies(folder: Path, until_line: int | None) -> list[bytes]:
    """The accepted facts of the journal up to a line; line numbers count refused facts as well."""
    lines = sound_lines(journal_in(folder)).lines
    _check_line(folder, until_line, len(lines))
    return [line.body for line in lines[:until_line] if line.refusal is None]


def competition_beside(recording: Path, heat: str) -> Path:
    """Find the competition file in the recording's folder that has this heat. Raises BadFile when there is none."""
    for candidate in sorted(recording.resolve().parent.glob("*.toml")):
        try:
            if heat in load_competition(candidate).heats:
                return candidate
        except BadFile:
            continue
    problem = Problem(
        "heat", f'"{heat}"', "a competition file beside the recording that has it; else name one with --competition"
    )
    raise BadFile(str(recording), [problem])


def attached(folder: Path, name: str) -> bytes:
    """Read a file that a competition file names. Raises OSError."""
    path = (folder / name).resolve()
    if not path.is_relative_to(folder):
        raise OSError("outside the folder of the competition file")
    if path.stat().st_size > _ATTACHED_LIMIT:
        raise OSError(f"{path.stat().st_size} bytes, more than {_ATTACHED_LIMIT}")
    return path.read_bytes()


def load_text(path: Path) -> str:
    """Read a text file in UTF-8. Raises BadFile."""
    return plain_text(str(path), _bytes(path))


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > _FILE_LIMIT:
            raise BadFile(str(path), [Problem("the file", f"{path.stat().st_size} bytes", f"at most {_FILE_LIMIT}")])
        return path.read_bytes()
    except OSError as exc:
        raise BadFile(str(path), [Problem("the file", exc.strerror or str(exc), "a file that can be read")]) from exc


def write_text(path: Path, text: str) -> None:
    """Write a file in UTF-8 without changing line ends, making its folder if missing. Raises BadFile."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode())
    except OSError as exc:
        raise BadFile(str(path), [Problem("the file", exc.strerror or str(exc), "a place to write to")]) from exc
