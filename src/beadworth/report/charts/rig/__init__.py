"""Charts of a rig: fit check, bring-up, melt and hot end."""
