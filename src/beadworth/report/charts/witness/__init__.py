"""Charts of graded witness prints."""
