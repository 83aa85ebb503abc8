"""Other looks at the same records: no law, other laws, and whether the life fits."""
