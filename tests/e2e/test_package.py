"""What is handed out: the source archive builds the wheel, and the wheel alone, in an empty folder, is the program."""

from __future__ import annotations

import os
import subprocess
import sys
import urllib.request
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest

from e2e.processes import served_with
from tallywire.web.pages import Program, WrittenPages, page_files

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from the source archive as PEP 517 has it: a file that the archive lacks is missing here."""
    out = tmp_path_factory.mktemp("built")
    command = [sys.executable, "-m", "build", "--outdir", str(out), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True, timeout=240)
    assert len(list(out.glob("*.tar.gz"))) == 1
    [made] = out.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def alone(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, str]:
    """The environment of a machine that has the wheel and no checkout."""
    folder = tmp_path_factory.mktemp("installed")
    command = [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--target", str(folder), str(wheel)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return {**os.environ, "PYTHONPATH": str(folder), "INSTALLED": str(folder)}


def of_the_checkout(folder: str) -> set[str]:
    """Every file of a folder that goes along."""
    found = (path for path in (ROOT / folder).rglob("*") if path.is_file() and "__pycache__" not in path.parts)
    return {path.relative_to(ROOT).as_posix() for path in found}


def test_everything_goes_along(wheel: Path) -> None:
    """Each module, page and scenario is in the wheel, and nothing of tests or docs."""
    with zipfile.ZipFile(wheel) as archive:
        names = [name for name in archive.namelist() if ".dist-info/" not in name]
    modules = {name.removeprefix("server/") for name in of_the_checkout("server/tallywire")}
    assets = {f"tallywire/_assets/{name}" for folder in ("overlay", "scenarios") for name in of_the_checkout(folder)}
    assert set(names) == modules | assets


def test_the_wheel_alone_serves_every_page(alone: Mapping[str, str], tmp_path: Path) -> None:
    """From an empty folder it rehearses the demo, and gives every page and part as the checkout writes it."""
    files = Program(page_files(ROOT / "overlay")).files
    written = WrittenPages(files)
    where = "import tallywire; print(tallywire.__file__)"
    found = subprocess.check_output([sys.executable, "-c", where], cwd=tmp_path, env=alone, text=True)
    assert found.startswith(alone["INSTALLED"])
    with served_with("rehearse", "--port", "0", env=alone, cwd=tmp_path) as server:
        for name in sorted(of_the_checkout("overlay")):
            if name.endswith(("version.js", "worker.js")) or "/public/" in name or name.endswith(".md"):
                continue  # written by the server, or packed for phones
            page = written.page(name.removeprefix("overlay"), "en")
            expected = (ROOT / name).read_bytes() if page is None else page.encode()
            with urllib.request.urlopen(f"{server.base}/{name.removeprefix('overlay/')}") as answer:
                assert answer.read() == expected, name
        for name in (each for each in files.digests() if "joined.js" in each and not each.startswith("public/")):
            with urllib.request.urlopen(f"{server.base}/{name}") as answer:
                assert answer.read() == files.body(name), name


def test_the_wheel_alone_prints_results(alone: Mapping[str, str], tmp_path: Path) -> None:
    """The demo heat, ten times as fast from its last minute on, ends in the results."""
    command = [sys.executable, "-m", "tallywire", "rehearse", "--from", "12:30", "--speed", "60", "--exit-at-end"]
    done = subprocess.run(
        [*command, "--port", "0"], cwd=tmp_path, env=alone, check=True, capture_output=True, text=True, timeout=60
    )
    assert "UNOFFICIAL" in done.stdout
    assert list(tmp_path.iterdir()) == []
