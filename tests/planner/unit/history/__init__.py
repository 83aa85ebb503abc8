"""Tests of the planner's room `history`."""
