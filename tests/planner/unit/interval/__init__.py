"""Tests of the planner's room `interval`."""
