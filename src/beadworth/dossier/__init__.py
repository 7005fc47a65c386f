"""The published account: charts (one definition each) and the self-contained page."""
