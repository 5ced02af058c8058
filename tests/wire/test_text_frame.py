"""Prebuilt frames are the frames a websocket library would build."""

from __future__ import annotations

import pytest
from websockets.frames import Frame, Opcode

from tallywire.wire.text_frame import frame_payload, text_frame


@pytest.mark.parametrize("length", [0, 1, 125, 126, 127, 65_535, 65_536, 70_000])
def test_a_frame_is_what_a_library_builds(length: int) -> None:
    """At and around every change of the length field, the bytes equal those of the websockets package."""
    payload = b"x" * length
    assert text_frame(payload) == Frame(Opcode.TEXT, payload).serialize(mask=False)


@pytest.mark.parametrize("length", [0, 125, 126, 65_535, 65_536])
def test_the_text_comes_back_out(length: int) -> None:
    """What was put into a frame is what is taken out of it."""
    payload = bytes(i % 251 for i in range(length))
    assert frame_payload(text_frame(payload)) == payload
