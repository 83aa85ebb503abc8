"""The demo's invented fleet: its records as JSON Lines, and the seeded script that made them."""
