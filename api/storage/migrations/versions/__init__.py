"""One file per step, oldest first by number; a released step is never edited."""
