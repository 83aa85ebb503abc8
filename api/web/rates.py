"""How often a key may ask: so many requests a minute, counted in a moving window in this process."""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING

from limits import RateLimitItemPerMinute
from limits.storage import MemoryStorage
from limits.strategies import SlidingWindowCounterRateLimiter

from api.problems import TooManyRequests

if TYPE_CHECKING:
    from limits import RateLimitItem


class Rates:
    """Counts the requests of each key.

    Args:
        per_minute: most requests of one key in a minute; 0: no limit.
    """

    def __init__(self, per_minute: int) -> None:
        self._limiter = SlidingWindowCounterRateLimiter(MemoryStorage())
        self._limit: RateLimitItem | None = RateLimitItemPerMinute(per_minute) if per_minute else None

    def count(self, key_id: str) -> None:
        """Count one request.

        Raises:
            TooManyRequests: the key has used up its minute; says when to come back.
        """
        if self._limit is None or self._limiter.hit(self._limit, key_id):
            return
        reset = self._limiter.get_window_stats(self._limit, key_id).reset_time
        seconds = max(1, math.ceil(reset - time.time()))
        raise TooManyRequests(
            f"this key may ask {self._limit.amount} times a minute", headers={"Retry-After": str(seconds)}
        )
