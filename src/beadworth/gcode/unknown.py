"""Words the scanner does not know: counted, spelt, and listed with their lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from beadworth.gcode import columns
from beadworth.gcode.totals import UnknownWord


class UnknownWords:
    """The scanner's table of unknown words, and the spelling of those that are names."""

    def __init__(self) -> None:
        self.table = np.zeros((columns.MAX_UNKNOWN, columns.N_UNKNOWN), np.int64)
        """Filled by the scanner, a row for each word."""
        self._names: dict[int, str] = {}

    def learn(self, buffer: NDArray[np.uint8], base: int) -> None:
        """Keep the spelling of commands that are names, while their text is at hand."""
        for row in self.table:
            if row[columns.U_COUNT] == 0:
                break
            key = int(row[columns.U_KEY])
            if key & columns.NAMED_KEY and key not in self._names:
                start = int(row[columns.U_AT]) - base
                text = buffer[start : start + int(row[columns.U_LEN])].tobytes()
                self._names[key] = text.decode("ascii", "replace")

    def words(self) -> tuple[UnknownWord, ...]:
        """The words, most frequent first."""
        words = [
            UnknownWord(
                self._spell(int(row[columns.U_KEY])),
                int(row[columns.U_COUNT]),
                tuple(
                    row[columns.U_LINES :][
                        : min(int(row[columns.U_COUNT]), columns.UNKNOWN_LINES)
                    ].tolist()
                ),
            )
            for row in self.table
            if row[columns.U_COUNT]
        ]
        return tuple(sorted(words, key=lambda word: (-word.count, word.word)))

    def _spell(self, key: int) -> str:
        """An unknown word as it is written."""
        if key & columns.NAMED_KEY:
            return self._names.get(key, "?")
        parameter, command = (
            key >> columns.PARAMETER_SHIFT,
            key & ((1 << columns.PARAMETER_SHIFT) - 1),
        )
        letter, code = command >> columns.LETTER_SHIFT, command & ((1 << columns.LETTER_SHIFT) - 1)
        whole, tenth = divmod(code, 10)
        if letter > columns.Z:
            return chr(letter)
        spelt = f"{chr(65 + letter)}{whole}" + (f".{tenth}" if tenth else "")
        if parameter == 0:
            return spelt
        return chr(64 + parameter) + (f" on {spelt}" if command else "")
