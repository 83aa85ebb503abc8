"""Durable background work: enqueued in the transaction that asks for it, run later, told about at /v1/jobs/{id}.

A feature registers its work once, at import, and enqueues it where a request asks for it:

    jobs.register("refit", refit)
    job = jobs.enqueue(session, fleet_id, kind="refit", payload={"kind": "rotor_arm"})

Work may run twice (a worker died, or was slow and another took over): it writes under unique keys, or does nothing
when what it would write is there already.
"""

from api.jobs.queue import enqueue
from api.jobs.registry import Cancelled, Sessions, Work, register

__all__ = ["Cancelled", "Sessions", "Work", "enqueue", "register"]
