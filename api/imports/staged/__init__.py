"""Records that an import has staged, and stored ones that it is to change."""
