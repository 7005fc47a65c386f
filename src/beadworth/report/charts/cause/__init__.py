"""Charts of vibrations that leave a pattern on a wall."""
