"""Webhooks by the Standard Webhooks specification: other systems are told what happens, signed, at least once."""
