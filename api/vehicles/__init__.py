"""Cars: who they are, what unit their keeper reads, how much they are driven."""
