"""What a fleet's records say of a kind: its life and all that is learnt beside it."""
