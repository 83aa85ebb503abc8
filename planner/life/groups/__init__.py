"""Groups of one kind: how much they differ, and the lives of each, drawn together."""
