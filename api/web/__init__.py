"""What every request and answer goes through, whatever the feature."""
