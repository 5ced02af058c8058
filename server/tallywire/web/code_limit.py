"""How many wrong codes may be typed. Six letters are few, so nobody may try them all."""

from __future__ import annotations

from tallywire.wire.allowance import Allowance

ADDRESSES_MOST = 1000
_A_MINUTE = 1 / 60


class CodeLimit:
    """Wrong codes in a minute: five from one address after ten at once, five in all after twenty at once.

    At that rate, trying for a whole day tries 7,200 of 64 million codes: with forty slips whose codes are still unused,
    that is one chance in 222. Times are seconds.
    """

    def __init__(self) -> None:
        self._all = Allowance(rate=5 * _A_MINUTE, burst=20)
        self._of: dict[str, Allowance] = {}

    def may_try(self, address: str, now: float) -> bool:
        """Tell whether a code from this address may be tried."""
        return not self._all.wait_s(now, tokens=1) and not self._for(address).wait_s(now, tokens=1)

    def was_wrong(self, address: str, now: float) -> None:
        """Note a wrong code."""
        self._all.spend(now)
        self._for(address).spend(now)

    def _for(self, address: str) -> Allowance:
        if len(self._of) >= ADDRESSES_MOST and address not in self._of:
            self._of.clear()
        return self._of.setdefault(address, Allowance(rate=5 * _A_MINUTE, burst=10))
