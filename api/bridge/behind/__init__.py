"""Forecasts that rest on a life or on terms no longer in force."""
