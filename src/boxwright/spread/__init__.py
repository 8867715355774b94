"""From one box to ten thousand: tolerances, bands, the share that keeps every limit, and what matters most."""
