"""Parts to order, and workshop hours ahead, for the whole fleet."""
