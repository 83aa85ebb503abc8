"""Kill -9 while an event is being posted: the next process posts it again, under the same id."""

import os
import signal
import subprocess
import time
from contextlib import contextmanager

from sqlmodel import select

from api.jobs import queue
from api.storage import schema
from api.storage.session import reading, writing
from api.storage.tables import Fleet, Webhook, WebhookDelivery
from api.webhooks import outbox
from tests.api.support import COMMAND, fresh_database
from tests.api.webhooks.verifier import verify

SECRET = "whsec_" + "c2VjcmV0c2VjcmV0c2VjcmV0c2VjcmV0"
EVENTS = 3


@contextmanager
def process(url):
    environment = {**os.environ, "WEARWRIGHT_WEBHOOK_HOSTS": "127.0.0.1", "WEARWRIGHT_MIGRATE": "true"}
    command = [*COMMAND, "serve", "--port", "0", "--database-url", url]
    started = subprocess.Popen(command, stderr=subprocess.DEVNULL, env=environment)
    try:
        yield started
    finally:
        if started.poll() is None:
            started.send_signal(signal.SIGTERM)
            started.wait(30)


def told(database, receiver):
    """Events of a fleet whose webhook leads to the receiver, told in one transaction; their ids."""
    schema.migrate(database)
    queue.prepare(database)
    with writing(database) as session:
        fleet = Fleet(name="one")
        session.add(fleet)
        session.flush()
        session.add(Webhook(fleet_id=fleet.id, url=receiver.url(), events=["digest.ready"], secret=SECRET))
        session.flush()
        for number in range(EVENTS):
            outbox.tell(session, fleet.id, "digest.ready", {"number": number})
    return {row.event_id for row in rows(database)}


def rows(database):
    with reading(database) as session:
        return session.exec(select(WebhookDelivery)).all()


def test_killed_while_it_waits_for_the_answer(tmp_path, receiver):
    with fresh_database(tmp_path) as database:
        told_ids = told(database, receiver)
        url = database.url.render_as_string(hide_password=False)
        receiver.answers = [lambda _handler: time.sleep(60)] * EVENTS
        with process(url) as first:
            receiver.wait_for(1)
            os.kill(first.pid, signal.SIGKILL)
            first.wait()
        assert {row.state for row in rows(database)} == {"waiting"}
        receiver.answers = []
        before = len(receiver.got)
        with process(url):
            deadline = time.monotonic() + (30 if database.is_sqlite else 75)
            while {row.state for row in rows(database)} != {"delivered"}:
                assert time.monotonic() < deadline, [row.state for row in rows(database)]
                time.sleep(0.1)
        again = receiver.got[before:]
    assert {verify(SECRET, got.headers, got.body) for got in again} == told_ids
    assert {got.id for got in receiver.got[:before]} <= told_ids
