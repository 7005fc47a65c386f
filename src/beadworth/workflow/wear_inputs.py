"""What is typed of a wear log: settings of its charts; and an entry in words."""

from beadworth.wear import ChartSettings, describe_entry

__all__ = ["ChartSettings", "describe_entry"]
