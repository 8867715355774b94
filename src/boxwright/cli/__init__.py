"""The command line: one module a verb; no physics, no geometry."""
