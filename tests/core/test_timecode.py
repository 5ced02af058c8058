"""SMPTE ST 12-1 timecode: the standard's own figures, the illegal label, and another implementation."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from timecode.timecode import Timecode

from tallywire.core.model.timecode import RATES, Rate, frame_of, label, time_of_day_label

DROP, DROP_60 = RATES["29.97 drop"], RATES["59.94 drop"]


@pytest.mark.parametrize(
    ("rate", "frame", "text"),
    [
        (DROP, 0, "00:00:00;00"),
        (DROP, 1799, "00:00:59;29"),
        (DROP, 1800, "00:01:00;02"),
        (DROP, 17981, "00:09:59;29"),
        (DROP, 17982, "00:10:00;00"),
        (DROP, 107892, "01:00:00;00"),
        (DROP, 2589407, "23:59:59;29"),
        (DROP_60, 3600, "00:01:00;04"),
        (DROP_60, 35964, "00:10:00;00"),
    ],
)
def test_drop_frame_labels_are_those_of_the_standard(rate: Rate, frame: int, text: str) -> None:
    """Frames and labels as SMPTE ST 12-1 counts them, both ways."""
    assert label(frame, rate) == text
    assert frame_of(text, rate) == frame


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("00:01:00;00", DROP),
        ("00:01:00;01", DROP),
        ("00:59:00;03", DROP_60),
        ("00:01:00:02", DROP),
        ("00:01:00;02", RATES["29.97"]),
        ("24:00:00:00", RATES["25"]),
        ("00:00:00:25", RATES["25"]),
        ("00:60:00:00", RATES["25"]),
        ("0:00:00:00", RATES["25"]),
    ],
)
def test_a_label_that_does_not_exist_is_refused(text: str, rate: Rate) -> None:
    """Dropped labels, the other kind's mark, and numbers out of range raise, naming what was found."""
    with pytest.raises(ValueError, match=f'found "{text}"'):
        frame_of(text, rate)


@pytest.mark.parametrize("name", [name for name in RATES if name.isdigit()])
def test_a_whole_rate_counts_as_many_frames_as_it_is_called(name: str) -> None:
    """Frame 25 at 25 a second is one second, and so on: the name is the number of frames."""
    assert label(int(name), RATES[name]) == "00:00:01:00"
    assert label(60 * int(name), RATES[name]) == "00:01:00:00"


@pytest.mark.parametrize("name", [name for name in RATES if not name.isdigit()])
def test_a_rate_with_decimals_is_a_thousand_and_first_slower_than_the_whole_one(name: str) -> None:
    """SMPTE ST 12-1: 30/1.001 and 60/1.001 frames a second. In 1,001 s there are 1,000 times 30 or 60 of them."""
    rate = RATES[name]
    assert rate.exact * 1001 == 1000 * rate.count
    assert time_of_day_label(1_001_000, rate) == label(1000 * rate.count, rate)
    assert time_of_day_label(1_000_999, rate) == label(1000 * rate.count - 1, rate)


@pytest.mark.parametrize("name", RATES)
def test_a_day_goes_round(name: str) -> None:
    """The frame after the last of a day has the first label."""
    rate = RATES[name]
    assert label(rate.frames_a_day, rate) == label(0, rate)
    assert label(rate.frames_a_day - 1, rate).startswith("23:59:59")


@given(st.sampled_from(sorted(RATES)), st.integers(0, 2_500_000))
def test_labels_and_frames_are_each_others_inverse(name: str, frame: int) -> None:
    """A frame's label leads back to the frame."""
    rate = RATES[name]
    number = frame % rate.frames_a_day
    assert frame_of(label(number, rate), rate) == number


@given(
    st.sampled_from([("29.97 drop", "29.97"), ("59.94 drop", "59.94"), ("25", "25"), ("24", "24"), ("50", "50")]),
    st.data(),
)
def test_the_timecode_package_writes_the_same_labels(names: tuple[str, str], data: st.DataObject) -> None:
    """PyPI's `timecode`, whose frames count from 1 and which drops frames by itself at these rates, agrees."""
    ours, theirs = names
    frame = data.draw(st.integers(0, RATES[ours].frames_a_day - 1))
    assert str(Timecode(theirs, frames=frame + 1)) == label(frame, RATES[ours])


def test_the_label_of_a_wall_time_counts_from_midnight_utc() -> None:
    """At 01:02:03.400 UTC at 25 frames a second it is frame 10 of the second."""
    day = 1_800_000_000_000 // 86_400_000 * 86_400_000
    assert time_of_day_label(day + 3_723_400, RATES["25"]) == "01:02:03:10"
    assert time_of_day_label(day, DROP) == "00:00:00;00"
