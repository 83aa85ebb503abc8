"""How long parts last: fitted models on two clocks, from spells and priors."""
