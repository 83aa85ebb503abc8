"""A service in a process of its own that knows the tests' work: started to be killed."""

import sys

from api import serving
from api.settings import Settings
from tests.api.jobs import works

if __name__ == "__main__":
    works.register()
    settings = Settings.model_validate({"database_url": sys.argv[2], "migrate": True, "log_json": False})
    if sys.argv[1] == "serve":
        serving.serve(settings, "127.0.0.1", int(sys.argv[3]), print)
    else:
        serving.work(settings)
