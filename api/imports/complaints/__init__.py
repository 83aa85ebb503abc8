"""Removals of a file that name the complaint they were made against: held to one car, one outcome, no more parts than said."""
