"""Due work as a calendar that other programs subscribe to, under secret addresses (RFC 5545)."""
