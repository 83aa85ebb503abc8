"""Tests of the planner's room `catalogue`."""
