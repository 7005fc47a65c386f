"""Charts of what an upgrade is worth."""
