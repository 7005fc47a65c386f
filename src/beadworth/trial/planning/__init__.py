"""Question, plan, budget and order of a trial."""
