"""A print on a rig: timeline, stretches over the ceiling, retiming, surveys of many."""
