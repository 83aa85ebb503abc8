"""Tests of the planner's room `life`."""
