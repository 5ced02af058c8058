"""How often a picture flashes: WCAG 2.2, 2.3.1 (general flash), and the same limit in ITU-R BT.1702.

A flash is a pair of opposing changes of relative luminance of 0.10 or more, the darker state below 0.80. At most three
in any second may fill 25 % of any 10° of the field of view: 341 x 256 of 1024 x 768, a third of each side. Changes are
counted without asking that all of them come at the same moment, so the count is never too low.
"""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Luminance = NDArray[np.float64]

MOST = 3
STEP = 0.10
BRIGHT = 0.80
AREA = 0.25
COLUMNS, ROWS = 96, 54
_FIELD = (ROWS // 3, COLUMNS // 3)
_SIGNAL = np.arange(256) / 255
_LINEAR = np.where(_SIGNAL <= 0.04045, _SIGNAL / 12.92, ((_SIGNAL + 0.055) / 1.055) ** 2.4)


def luminance(picture: bytes) -> Luminance:
    """Give the relative luminance (WCAG 2.2) of a picture, as the mean of each of 96 x 54 tiles."""
    with Image.open(io.BytesIO(picture)) as image:
        linear = _LINEAR[np.asarray(image.convert("RGB"))]
    light = linear @ np.array([0.2126, 0.7152, 0.0722])
    rows = np.linspace(0, light.shape[0], ROWS + 1).astype(int)
    columns = np.linspace(0, light.shape[1], COLUMNS + 1).astype(int)
    tiles: Luminance = np.add.reduceat(np.add.reduceat(light, rows[:-1], axis=0), columns[:-1], axis=1)
    tiles /= np.outer(np.diff(rows), np.diff(columns))
    return tiles


def changes(frames: Luminance) -> NDArray[np.int_]:
    """Mark, for every tile, the frames in which an opposing change is complete; frames come first.

    A change is measured from the furthest point reached since the last one, so a slow fade counts once.
    """
    made = np.zeros(frames.shape, dtype=int)
    low, high = frames[0].copy(), frames[0].copy()
    going = np.zeros(frames[0].shape, dtype=int)
    for index, frame in enumerate(frames):
        low, high = np.minimum(low, frame), np.maximum(high, frame)
        up = (going <= 0) & (frame - low >= STEP) & (low < BRIGHT)
        down = (going >= 0) & (high - frame >= STEP) & (frame < BRIGHT)
        high, low = np.where(up, frame, high), np.where(down, frame, low)
        going = np.where(up, 1, np.where(down, -1, going))
        made[index] = up | down
    return made


def flashes_a_second(frames: Luminance, *, rate: int) -> float:
    """Give the most flashes in any second of so many frames a second, over 25 % of any field of view."""
    made = np.cumsum(changes(frames), axis=0)
    before = np.concatenate([np.zeros((rate, *made.shape[1:]), dtype=int), made])[: len(made)]
    in_second = made - before
    fields = np.lib.stride_tricks.sliding_window_view(in_second, _FIELD, axis=(1, 2))[:, ::3, ::4]
    flat = np.sort(fields.reshape(*fields.shape[:3], -1), axis=-1)
    return float(flat[..., -int(np.ceil(flat.shape[-1] * AREA))].max() / 2)
