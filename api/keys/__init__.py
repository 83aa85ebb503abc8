"""Keys to one fleet: made once, shown once, hashed at rest."""
