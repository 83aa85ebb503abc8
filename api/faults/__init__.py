"""Which part is it? Fault-findings on one car, kept as cases, and a fleet's own complaints and checks."""
