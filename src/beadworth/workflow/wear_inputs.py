"""What is typed of a wear log: settings of its charts; and an entry in words."""

from beadworth.wear import ChartSettings, entry_words

__all__ = ["ChartSettings", "entry_words"]
