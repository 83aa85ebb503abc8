"""Draws from a posterior, and how far they are to be trusted."""
