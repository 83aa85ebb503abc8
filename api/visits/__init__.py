"""A car's work grouped into visits, what grouping saves, what could not fit, and what not to touch."""
