"""Large signal: what parts do at level, when bl, stiffness and inductance change with travel and vents choke."""
