"""Readings: typed, read from a table, checked against a plan; loss with its uncertainty."""
