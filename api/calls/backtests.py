"""The client's calls about looking back on predictions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.calls.transport import Caller, Json

if TYPE_CHECKING:
    from collections.abc import Mapping


class BacktestCalls(Caller):
    """One method per route of looking back."""

    def look_back(self, kind: str, body: Mapping[str, Any] | None = None) -> Json:
        """Ask how far predictions for a kind would have been right; returns the job that works it out."""
        return self._post(f"/v1/part-kinds/{kind}/backtests", body or {})

    def backtest(self, kind: str) -> Json:
        """What looking back on a kind gave when it was last asked for."""
        return self._get(f"/v1/part-kinds/{kind}/backtest")
