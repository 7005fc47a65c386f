"""Charts: one function each from data to a Vega-Lite spec, by subject."""
