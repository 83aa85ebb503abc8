"""The only place that knows rows and the planner's values: `gather` reads rows, `keep` writes results."""
