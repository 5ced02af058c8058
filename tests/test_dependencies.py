"""An audit of what a venue installs, offline: what the lock file says, held against what is installed here.

What it can tell: that every package the program needs, and every package these need in turn, is locked to one version
with hashes; that this environment runs those versions; that no installed file is other than its package recorded; and
that each has a licence we know. What it cannot tell, because that needs the network: whether a version has been
withdrawn or found vulnerable since the lock was made, and whether an index still gives the files that were hashed. The
last is checked by pip at each install, which refuses any file whose hash is not in the lock.
"""

from __future__ import annotations

import re
import tomllib
from base64 import urlsafe_b64encode
from collections.abc import Iterator, Mapping
from hashlib import new
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
LOCK = (ROOT / "server" / "venue-requirements.txt").read_text(encoding="utf-8")
_HASH = re.compile(r"--hash=sha256:[0-9a-f]{64}")
BUILDERS = {"hatchling", "pathspec", "pluggy", "tomlkit", "trove-classifiers"}
"""They build the program and then lie idle; not all of them are installed where it is tested."""
LICENCES = {
    "MIT",
    "BSD-3-Clause",
    "BSD-2-Clause",
    "Apache-2.0",
    "MIT-0",
    "PSF-2.0",
    "MPL-2.0",
    "0BSD",
    "Zlib",
    "CC0-1.0",
}
"""SPDX names of licences that let anyone use and pass on the program with its packages."""
UNNAMED = {"colorspacious": "MIT"}
"""Packages whose own record has no name of a licence that SPDX knows, as their licence file says."""


def locked(text: str) -> dict[str, list[Requirement]]:
    """Give the requirements of a lock by name: one version, or one for each version of Python."""
    found: dict[str, list[Requirement]] = {}
    for entry in _entries(text):
        requirement = Requirement(entry.partition(" --hash")[0].strip())
        found.setdefault(canonicalize_name(requirement.name), []).append(requirement)
    return found


def _entries(text: str) -> Iterator[str]:
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    yield from "\n".join(lines).replace("\\\n", " ").splitlines()


def faults_of(text: str) -> list[str]:
    """Say what in a lock is not one version of a package with its hashes."""
    faults = []
    for entry in _entries(text):
        words = entry.split()
        requirement = Requirement(entry.partition(" --hash")[0].strip())
        pins = [each.operator for each in requirement.specifier]
        if pins != ["=="] or requirement.url or requirement.extras:
            faults.append(f"{requirement.name} is not locked to one version")
        hashes = [word for word in words if word.startswith("--")]
        if not hashes or not all(_HASH.fullmatch(each) for each in hashes):
            faults.append(f"{requirement.name} has no hash, or another option")
    return faults


def wanted() -> list[Requirement]:
    """What pyproject.toml asks for, to build and to run."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    return [Requirement(each) for each in (*project["build-system"]["requires"], *project["project"]["dependencies"])]


def lacks(lock: Mapping[str, list[Requirement]]) -> list[str]:
    """Follow what is asked for through what is installed, and say what is not in the lock, or in another version."""
    faults, waiting, seen = [], wanted(), set[str]()
    while waiting:
        asked = waiting.pop()
        name = canonicalize_name(asked.name)
        if asked.marker is not None and not asked.marker.evaluate({"extra": ""}):
            continue
        pins = [each for each in lock.get(name, []) if each.marker is None or each.marker.evaluate()]
        if len(pins) != 1:
            faults.append(f"{name} is locked {len(pins)} times for this Python")
            continue
        version = next(iter(pins[0].specifier)).version
        if not asked.specifier.contains(version, prereleases=True):
            faults.append(f"{name} is locked to {version}, expected {asked.specifier}")
        if name not in seen:
            seen.add(name)
            faults += _installed_otherwise(name, version, waiting)
    return faults


def _installed_otherwise(name: str, version: str, waiting: list[Requirement]) -> list[str]:
    try:
        found = distribution(name)
    except PackageNotFoundError:
        return [] if name in BUILDERS else [f"{name} is not installed"]
    waiting += [Requirement(each) for each in found.requires or ()]
    if name in BUILDERS or found.version == version:
        return []
    return [f"{name} {found.version} is installed, {version} is locked"]


def changed_files(of: Distribution) -> list[str]:
    """Give the files of an installed package that are not what its RECORD says (binary distribution format)."""
    changed = []
    for each in of.files or ():
        if each.hash is None or each.suffix == ".pyc":
            continue
        path = Path(str(of.locate_file(each)))
        digest = new(each.hash.mode, path.read_bytes()).digest() if path.is_file() else b""
        if urlsafe_b64encode(digest).rstrip(b"=").decode() != each.hash.value:
            changed.append(str(each))
    return changed


def licences_of(found: Distribution) -> set[str]:
    """Give the SPDX names in a package's record: its expression (PEP 639), else licence field and classifiers."""
    data: Any = found.metadata
    text = data.get("License-Expression") or data.get("License") or ""
    named = set(re.findall(r"[A-Za-z0-9.+-]+", text)) if len(text) < 80 else set()
    classifiers = " ".join(each for each in data.get_all("Classifier") or () if each.startswith("License"))
    for words, name in (("MIT License", "MIT"), ("BSD License", "BSD-3-Clause"), ("Apache Software", "Apache-2.0")):
        named |= {name} if words in classifiers else set()
    return named & LICENCES or {UNNAMED.get(canonicalize_name(data["Name"]), "")}


RUNTIME = sorted(set(locked(LOCK)) - BUILDERS)
HERE = [
    name
    for name in RUNTIME
    if any(each.marker is None or each.marker.evaluate(default_environment()) for each in locked(LOCK)[name])  # type: ignore[arg-type]
]


def test_every_package_is_locked_to_one_version_with_hashes() -> None:
    """Each line of the lock is a name, `==`, a version, and SHA-256 hashes; nothing else."""
    assert faults_of(LOCK) == []
    assert len(locked(LOCK)) > 15


def test_the_lock_has_all_that_is_needed_in_the_versions_that_are_tested() -> None:
    """What pyproject.toml asks for, and what that asks for in turn, is locked, and these tests ran with it."""
    assert lacks(locked(LOCK)) == []


@pytest.mark.parametrize("name", HERE)
def test_what_is_installed_is_what_was_packed(name: str) -> None:
    """No file of an installed package differs from what its own record says."""
    assert changed_files(distribution(name)) == []


@pytest.mark.parametrize("name", HERE)
def test_its_licence_lets_us_pass_it_on(name: str) -> None:
    """The package's record names a licence of the list."""
    assert licences_of(distribution(name)) <= LICENCES


def test_the_audit_can_fail() -> None:
    """A lock that lacks a package, a hash or an exact version, or has another version, is found out."""
    first = next(iter(_entries(LOCK))).split(" --hash")[0].strip()
    assert faults_of(LOCK.replace(first, first.replace("==", ">="), 1)) != []
    assert faults_of(f"{LOCK}\nstray==1.0\n") != []
    assert faults_of(f"{LOCK}\nstray==1.0 --hash=md5:00\n") != []
    lock = locked(LOCK)
    assert lacks({name: pins for name, pins in lock.items() if name != "h11"}) != []
    assert lacks(lock | {"h11": [Requirement("h11==0.1")]}) != []
    assert licences_of(distribution("pytest")) <= LICENCES


def test_a_changed_file_is_found(tmp_path: Path) -> None:
    """A package with one byte changed after it was installed is named."""
    folder = tmp_path / "stray-1.0.dist-info"
    folder.mkdir()
    good = urlsafe_b64encode(new("sha256", b"good").digest()).rstrip(b"=").decode()
    (folder / "METADATA").write_text("Metadata-Version: 2.1\nName: stray\nVersion: 1.0\n", encoding="utf-8")
    (folder / "RECORD").write_text(f"stray.py,sha256={good},4\n", encoding="utf-8")
    (tmp_path / "stray.py").write_bytes(b"good")
    assert changed_files(Distribution.at(folder)) == []
    (tmp_path / "stray.py").write_bytes(b"evil")
    assert changed_files(Distribution.at(folder)) == ["stray.py"]
