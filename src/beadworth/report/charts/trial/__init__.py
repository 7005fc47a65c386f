"""Charts of a trial: loss, delivery, ceilings, speeds, budget."""
