"""Count, total and rate of a task on a progress line."""

from __future__ import annotations

from rich.progress import ProgressColumn, Task
from rich.text import Text


class RateColumn(ProgressColumn):
    """``120 of 4000 prints, 35 a minute``."""

    def __init__(self, unit: str) -> None:
        super().__init__()
        self.unit = unit

    def render(self, task: Task) -> Text:
        """The cell for a task."""
        total = "?" if task.total is None else f"{task.total:.0f}"
        speed = task.finished_speed or task.speed
        rate = f", {60 * speed:.3g} a minute" if speed else ""
        return Text(f"{task.completed:.0f} of {total} {self.unit}{rate}")
