"""Geometry: envelopes, what fits on which face, and net volume."""
