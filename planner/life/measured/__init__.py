"""Parts whose wear is measured: their own path to the limit."""
