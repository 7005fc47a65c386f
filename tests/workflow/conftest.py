"""What the tests of the workflow share: a small finished trial."""

from report_case import report_data

__all__ = ["report_data"]
