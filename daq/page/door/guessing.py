"""Wrong tokens: a few are mistakes, many are guesses, and guesses are slowed down."""

import math
from collections import OrderedDict
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address

BURST = 5
"""So many wrong tokens from one address are taken for mistakes."""

PAUSE_S = 10.0
"""After those, one more each time that so many seconds have passed."""

BURST_OF_ALL = 50
PAUSE_OF_ALL_S = 1.0
"""The same over all addresses together, for those who have many."""

MOST_ADDRESSES = 256


@dataclass(slots=True)
class _Bucket:
    """How many tries are left, at a time."""

    left: float
    at_s: float

    def fill(self, at_s: float, most: int, pause_s: float) -> None:
        self.left = min(float(most), self.left + max(0.0, at_s - self.at_s) / pause_s)
        self.at_s = max(self.at_s, at_s)


class Guessing:
    """Who has shown wrong tokens, and how long they wait.

    Knows a bounded number of addresses, the newest ones; the limit over all of them holds for those
    that were forgotten. It owns no clock: times are seconds of one that never goes back.
    """

    def __init__(self) -> None:
        self._all = _Bucket(BURST_OF_ALL, -math.inf)
        self._each: OrderedDict[str, _Bucket] = OrderedDict()

    def __len__(self) -> int:
        return len(self._each)

    def wait_s(self, client: str, at_s: float) -> float:
        """How long ``client`` waits before a token is looked at, in seconds; 0: not at all."""
        self._all.fill(at_s, BURST_OF_ALL, PAUSE_OF_ALL_S)
        wait_s = max(0.0, 1.0 - self._all.left) * PAUSE_OF_ALL_S
        bucket = self._each.get(_neighbourhood(client))
        if bucket is not None:
            bucket.fill(at_s, BURST, PAUSE_S)
            wait_s = max(wait_s, max(0.0, 1.0 - bucket.left) * PAUSE_S)
        return wait_s

    def was_wrong(self, client: str, at_s: float) -> None:
        """``client`` showed a wrong token."""
        self.wait_s(client, at_s)
        self._all.left -= 1
        key = _neighbourhood(client)
        bucket = self._each.setdefault(key, _Bucket(BURST, at_s))
        bucket.left -= 1
        self._each.move_to_end(key)
        while len(self._each) > MOST_ADDRESSES:
            self._each.popitem(last=False)


def _neighbourhood(client: str) -> str:
    """An IPv6 host chooses among 2**64 addresses at will: the first half of it tells who it is."""
    try:
        address = ip_address(client)
    except ValueError:
        return client
    if isinstance(address, IPv6Address) and address.ipv4_mapped is None:
        return str(IPv6Address(int(address) >> 64 << 64))
    return client
