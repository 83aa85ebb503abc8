"""Tests of the planner's room `figures`."""
