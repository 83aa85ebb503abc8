"""What stands for a kind: its life, its interval tables, the terms."""
