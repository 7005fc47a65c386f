"""Charts of the wear log."""
