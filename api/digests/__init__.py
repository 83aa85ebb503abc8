"""The weekly digest of a fleet: made once per ISO week by a job, kept, and read as JSON or as a page."""
