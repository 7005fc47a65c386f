"""The curve of loss over flow, its prior, and the posterior of its parameters."""
