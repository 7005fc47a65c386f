"""Charts of a print on a rig."""
