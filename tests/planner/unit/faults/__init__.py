"""Tests of the planner's room `faults`."""
