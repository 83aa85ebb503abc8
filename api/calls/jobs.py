"""The client's calls about background work."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from api.calls.transport import Caller, Json

if TYPE_CHECKING:
    from collections.abc import Iterator


class JobCalls(Caller):
    """One method per route of jobs, and one that waits."""

    def job(self, job_id: str) -> Json:
        """How far a job is."""
        return self._get(f"/v1/jobs/{job_id}")

    def jobs(self, *, limit: int | None = None) -> Iterator[Json]:
        """The fleet's background work, latest first."""
        return self._wire.pages("/v1/jobs", {"limit": limit})

    def cancel_job(self, job_id: str) -> Json:
        """Ask a job to stop."""
        return self._post(f"/v1/jobs/{job_id}/cancellation", None)

    def wait_for_job(self, job_id: str, *, seconds: float = 120.0, pause: float = 0.1) -> Json:
        """Wait until a job has ended, well or not.

        Raises:
            TimeoutError: it had not ended after `seconds`.
        """
        give_up = time.monotonic() + seconds
        while (job := self.job(job_id))["state"] not in {"succeeded", "failed", "cancelled"}:
            if time.monotonic() > give_up:
                raise TimeoutError(f"job {job_id} is still {job['state']} after {seconds:.0f} s")
            time.sleep(pause)
        return job
