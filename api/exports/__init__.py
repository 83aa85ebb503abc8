"""Exports: all records of one kind as a file that an import takes as it is."""
