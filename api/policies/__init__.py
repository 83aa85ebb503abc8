"""Ways of living with one part of a car, side by side."""
