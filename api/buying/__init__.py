"""Buying a car: what to treat as due on one that nobody can date, and what its first two years may cost."""
