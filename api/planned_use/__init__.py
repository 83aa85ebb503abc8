"""What a keeper knows of a car's road ahead: tours and lay-ups."""
