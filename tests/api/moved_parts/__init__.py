"""Tests of parts that move from one car to another."""
