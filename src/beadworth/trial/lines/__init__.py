"""The lines a balance sends: their format learnt from samples, and what of them may be used."""
