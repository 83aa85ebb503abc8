"""What other systems are told about plans: parts that came to be due soon or are no longer, cars whose dates changed."""
