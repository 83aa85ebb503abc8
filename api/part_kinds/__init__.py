"""Part kinds as one fleet treats them: the catalogue, settings, the life in force, refits."""
