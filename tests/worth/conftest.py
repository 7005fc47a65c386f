"""Support for the worth tests."""
