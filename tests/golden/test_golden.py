"""Every recorded example gives the same results, frames and cues as before: see the golden package."""

from __future__ import annotations

import json

import pytest

from golden import door
from golden.examples import FOLDER, examples
from golden.take import GOLDEN, Digests, Shot, canonical, digests, take

EXAMPLES = examples()
RECORDED: dict[str, Digests] = json.loads(GOLDEN.read_text(encoding="utf-8"))


def differences(example: str, now: Digests, before: Digests) -> list[str]:
    """Name every view and instant of an example whose digest is another, or that one side lacks."""
    places = {(view, instant) for each in (now, before) for view, instants in each.items() for instant in instants}
    pairs = {place: tuple(each.get(place[0], {}).get(place[1]) for each in (before, now)) for place in sorted(places)}
    return [
        f"{example}, {view}, {instant}: found {found or 'nothing'}, expected {expected or 'nothing'}"
        for (view, instant), (expected, found) in pairs.items()
        if found != expected
    ]


def check(name: str, now: Digests) -> None:
    """Fail with every difference and what to do about it."""
    found = differences(name, now, RECORDED.get(name, {}))
    remedy = (
        f"\nDump this example here and at the last commit that passed, and diff the two folders:\n"
        f"  PYTHONPATH=server:tests:scenarios python -m golden.take --only {name} --dump DIR\n"
        "tests/golden/__init__.py has every step, and when golden.json may be written again."
    )
    assert not found, "\n".join(found) + remedy


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_an_example_gives_what_it_gave(name: str) -> None:
    """All frames of all views at all stops, and what the command line writes, are those of golden.json."""
    check(name, digests(take(EXAMPLES[name])))


def test_every_recording_and_every_view_is_in_the_golden_file() -> None:
    """No recording, view or example is left out, and none stands there that is gone."""
    assert {path.stem for path in FOLDER.glob("*.ndjson")} <= set(EXAMPLES)
    assert set(RECORDED) == set(EXAMPLES)
    assert all(set(views) - {"commands"} == set(door.VIEWS) for views in RECORDED.values())


def test_the_golden_file_is_sorted_and_small() -> None:
    """A change of one frame is a change of one line."""
    text = GOLDEN.read_text(encoding="utf-8")
    assert text == json.dumps(RECORDED, sort_keys=True, indent=0) + "\n"
    assert len(text) < 200_000


def test_a_change_of_what_a_format_gives_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """One rep more in every outcome of a format turns the comparison red, and the message says where and what to do."""
    door.plant_one_rep_more(monkeypatch)
    with pytest.raises(AssertionError) as failure:
        test_an_example_gives_what_it_gave("estuary-lock-ladder")
    told = str(failure.value)
    assert "estuary-lock-ladder, heat, 0301500: found" in told
    assert "estuary-lock-ladder, commands, results: found" in told
    assert "--only estuary-lock-ladder --dump" in told


def test_a_lost_frame_is_found() -> None:
    """A view that is no longer taken at an instant counts as a difference, as does one more."""
    name, before = "estuary-anchor", RECORDED["estuary-anchor"]
    [instant, *_] = before["gaps"]
    fewer = before | {"gaps": {at: each for at, each in before["gaps"].items() if at != instant}}
    assert differences(name, fewer, before) == [
        f"{name}, gaps, {instant}: found nothing, expected {before['gaps'][instant]}"
    ]
    assert len(differences(name, before, fewer)) == 1


def test_floats_count_to_six_digits_and_the_order_of_keys_not_at_all() -> None:
    """What may differ between machines is left out of a digest, and nothing else is."""
    one = Shot(example="x", view="heat", instant="0", content={"a": [0.1 + 0.2], "b": 1})
    same = Shot(example="x", view="heat", instant="0", content={"b": 1, "a": [0.3]})
    other = Shot(example="x", view="heat", instant="0", content={"b": 1, "a": [0.300001]})
    assert canonical(one.content) == '{"a":[0.3],"b":1}'
    assert one.digest == same.digest != other.digest
