"""Readings become groups, fits and the law across temperature."""
