"""Cars that eat parts or spare them."""
