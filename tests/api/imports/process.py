"""A service, or a worker alone, in a process of its own: started to be killed, and quick to take over from a killed one."""

import sys
from datetime import timedelta

from api import serving
from api.jobs.worker import Worker
from api.settings import Settings

if __name__ == "__main__":
    Worker.__init__.__kwdefaults__.update(silent_after=timedelta(seconds=4), beat_seconds=0.5)
    settings = Settings.model_validate({"database_url": sys.argv[2], "migrate": True, "log_level": "error"})
    if sys.argv[1] == "serve":
        serving.serve(settings, "127.0.0.1", 0, lambda _: None)
    else:
        serving.work(settings)
