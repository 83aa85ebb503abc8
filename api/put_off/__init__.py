"""Putting a part's renewal off, or declining it, with a reason that stays in sight."""
