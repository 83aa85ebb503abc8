"""What happened to parts: records, and their conversion to spells of life data."""
