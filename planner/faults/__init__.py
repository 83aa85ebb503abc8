"""Which part is it? Ranks suspects, chooses the next step, and turns a closed case into evidence."""
