"""Tests of the planner's room `trust`."""
