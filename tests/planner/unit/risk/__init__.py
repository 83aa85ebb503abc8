"""Tests of the planner's room `risk`."""
