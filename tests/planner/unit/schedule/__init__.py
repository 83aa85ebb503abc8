"""Tests of the planner's room `schedule`."""
