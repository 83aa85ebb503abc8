"""What the demo says when it cannot go on."""


class DemoError(Exception):
    """The demo cannot go on; the message is a whole sentence for its user."""
