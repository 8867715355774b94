"""From a brief to a loudspeaker box for low notes, proved before it is cut."""
