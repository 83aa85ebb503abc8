"""Tests of the planner's room `usage`."""
