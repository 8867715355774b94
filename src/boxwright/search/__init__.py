"""From a brief to a ranked shortlist."""
