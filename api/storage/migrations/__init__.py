"""Steps from one released schema to the next; configured in code, run by ``api.storage.schema``."""
