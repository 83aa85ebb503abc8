"""How many new parts are bad from the shelf or badly fitted."""
