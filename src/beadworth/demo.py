"""The demo scenario: an invented workshop, its rigs, and simulated readings with a stated truth."""
