"""Any number of spells as counts in cells, from arrays or straight from a database."""
