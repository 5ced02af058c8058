"""Merge patches against the RFC's own examples, another implementation, and random frames."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import json_merge_patch  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tallywire.wire.merge_patch import apply, diff

RFC_7396_APPENDIX_A: list[tuple[Any, Any, Any]] = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    (["a", "b"], ["c", "d"], ["c", "d"]),
    ({"a": "b"}, ["c"], ["c"]),
    ({"a": "foo"}, None, None),
    ({"a": "foo"}, "bar", "bar"),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]
"""RFC 7396, Appendix A: original, patch, result."""

names = st.sampled_from(["lanes", "1", "2", "done", "splits", "order"])
scalars = st.integers(-5, 5) | st.sampled_from(["", "a", "b"])
values = st.recursive(scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=4))
frames = st.dictionaries(names, values, max_size=5)
with_nulls = st.recursive(
    scalars | st.none(), lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=4)
)


@pytest.mark.parametrize(("original", "patch", "result"), RFC_7396_APPENDIX_A)
def test_the_examples_of_the_rfc(original: Any, patch: Any, result: Any) -> None:
    """Every example of RFC 7396's Appendix A gives the result printed there and leaves the original as it was."""
    before = deepcopy(original)
    assert apply(original, patch) == result
    assert original == before


@given(frames, frames)
def test_a_patch_leads_to_the_new_frame(old: dict[str, Any], new: dict[str, Any]) -> None:
    """The difference between two frames without nulls, applied to the first, gives the second."""
    assert apply(old, diff(old, new)) == new


@given(frames, frames)
def test_another_implementation_reads_our_patches(old: dict[str, Any], new: dict[str, Any]) -> None:
    """The json-merge-patch package, applying our patch, comes to the new frame too, and needs no larger one."""
    ours = diff(old, new)
    assert json_merge_patch.merge(deepcopy(old), deepcopy(ours)) == new
    assert ours == json_merge_patch.create_patch(old, new)


@given(with_nulls, with_nulls)
def test_applying_agrees_with_another_implementation(target: Any, patch: Any) -> None:
    """Any patch on any value, nulls included, comes out as in the json-merge-patch package."""
    assert apply(target, patch) == json_merge_patch.merge(deepcopy(target), deepcopy(patch))


@given(frames)
def test_nothing_changed_is_an_empty_patch(frame: dict[str, Any]) -> None:
    """Equal frames differ by nothing."""
    assert diff(frame, deepcopy(frame)) == {}


def test_only_what_changed_is_sent() -> None:
    """One count of one lane makes a patch with that count alone."""
    lanes = {str(n): {"done": n, "name": "x"} for n in range(20)}
    after = deepcopy(lanes)
    after["7"]["done"] = 8
    assert diff({"lanes": lanes}, {"lanes": after}) == {"lanes": {"7": {"done": 8}}}
