"""The fleet itself: what its answers are reckoned in, and how much costs of later years count."""
