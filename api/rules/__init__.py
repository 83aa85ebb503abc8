"""A rule for a kind over the fleet's spread of use: X km or Y years, whichever comes first."""
