"""What happened to a car: odometer readings, parts fitted, looked at, repaired and taken off."""
