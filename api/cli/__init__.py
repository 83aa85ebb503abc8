"""The command line: each file adds a handful of subcommands to one application.

A new subcommand stands in a file of its own, adds itself to ``app`` (or a group to it), and is named in ``application.ROOMS``.
Exit status: 0 done, 1 refused or failed, 2 not understood, 130 stopped by hand. What somebody asked for goes to standard
output, everything else to standard error.
"""

from api.cli.application import main

__all__ = ["main"]
