"""The service around the planner: records in over HTTP, dated and reasoned work out."""
