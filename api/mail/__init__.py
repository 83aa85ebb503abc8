"""Weekly digests by mail: who gets them when, how they look, and their delivery over SMTP."""
