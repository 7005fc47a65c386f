"""Tables on a terminal: what is asked of a width, and what never happens at any."""

import pytest

from beadworth.cli.table import Table, cell_text, table_text

LOG = Table(
    "Wear log of A",
    ("no.", "day", "what", "reading", "state"),
    [
        (1, "2026-03-01", "play at the bed, x carriage, measured cold", 0.06, "current"),
        (12, "2026-03-02", "belt", 48.0, "superseded: read the wrong counter"),
        (13, "2026-03-03", "hours", None, "current"),
    ],
)


def test_a_wide_terminal_gets_one_line_a_row_with_numbers_to_the_right():
    assert table_text(LOG, 120).splitlines() == [
        "",
        "Wear log of A",
        "no.  day         what                                        reading  state",
        "─" * 104,
        "  1  2026-03-01  play at the bed, x carriage, measured cold     0.06  current",
        " 12  2026-03-02  belt                                             48  superseded: "
        "read the wrong counter",
        " 13  2026-03-03  hours                                             –  current",
    ]


def test_a_narrow_one_wraps_the_long_columns_between_words():
    assert table_text(LOG, 62).splitlines() == [
        "",
        "Wear log of A",
        "no.  day         what               reading  state",
        "─" * 61,
        "  1  2026-03-01  play at the bed,      0.06  current",
        "                 x carriage,",
        "                 measured cold",
        " 12  2026-03-02  belt                    48  superseded: read",
        "                                             the wrong",
        "                                             counter",
        " 13  2026-03-03  hours                    –  current",
    ]


def test_where_words_do_not_fit_beside_each_other_rows_are_stacked():
    assert table_text(LOG, 36).splitlines()[:9] == [
        "",
        "Wear log of A",
        "no.      1",
        "day      2026-03-01",
        "what     play at the bed, x",
        "         carriage, measured cold",
        "reading  0.06",
        "state    current",
        "",
    ]


def test_an_empty_table_says_so():
    assert table_text(Table("Rigs", ("name",), [])).split() == ["Rigs", "none"]


def test_words_are_whole_at_every_width():
    words = {word for row in LOG.rows for cell in row for word in cell_text(cell).split()}
    for width in range(20, 121):
        lines = table_text(LOG, width).splitlines()[2:]
        assert words <= {word for line in lines for word in line.split()}, width
        assert max(map(len, lines)) <= max(width, 29), width


def test_wide_letters_and_marks_take_the_room_they_take():
    wide = Table("T", ("name", "mm"), [("\u6253\u5370\u673a", 1), ("e\u0301", 2)])
    head, _, first, second = table_text(wide, 40).splitlines()[2:]
    assert head == "name    mm"
    assert first == "\u6253\u5370\u673a   1"
    assert second == "e\u0301        2"


@pytest.mark.parametrize(
    ("value", "text"), [(None, "–"), (0.123456, "0.1235"), (1234.5, "1234"), (3, "3"), ("a", "a")]
)
def test_cells(value, text):
    assert cell_text(value) == text


def test_a_column_takes_an_attribute_or_a_function():
    made = Table.of("T", [3 + 4j], {"real": "real", "size": abs})
    assert (made.columns, list(made.rows)) == (("real", "size"), [(3.0, 5.0)])
