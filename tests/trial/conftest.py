"""Lets tests of this folder import ``trial_tables``."""
