"""Worth: what an upgrade buys against what it costs, against what else, and over months."""
