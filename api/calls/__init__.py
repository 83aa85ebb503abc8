"""What the client can ask for, one file a feature."""
