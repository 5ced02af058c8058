"""A websocket text frame as a server sends it, built once and written to many (RFC 6455 §5.2)."""

from __future__ import annotations

_FIN_TEXT = 0x81
_SHORT_MOST = 125
_EXTENDED_16, _EXTENDED_64 = 126, 127


def text_frame(payload: bytes) -> bytes:
    """Frame UTF-8 text as one whole message, unmasked: a server must not mask (RFC 6455 §5.1)."""
    length = len(payload)
    if length <= _SHORT_MOST:
        head = bytes((_FIN_TEXT, length))
    elif length < 1 << 16:
        head = bytes((_FIN_TEXT, _EXTENDED_16)) + length.to_bytes(2, "big")
    else:
        head = bytes((_FIN_TEXT, _EXTENDED_64)) + length.to_bytes(8, "big")
    return head + payload


def frame_payload(frame: bytes) -> bytes:
    """Give the text inside a frame made by `text_frame`, for a transport that does its own framing."""
    extension = {_EXTENDED_16: 2, _EXTENDED_64: 8}.get(frame[1], 0)
    return frame[2 + extension :]
