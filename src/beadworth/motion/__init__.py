"""A path becomes speed over time: look-ahead planning as controllers do it."""
