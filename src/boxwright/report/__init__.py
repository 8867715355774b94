"""Charts and documents that a person can hand on."""
