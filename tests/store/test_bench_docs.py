"""Every table and column of the bench is in the reference."""

from pathlib import Path

from beadworth.store.models import Base

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "reference" / "bench.md").read_text()


def test_every_table_and_column_is_documented():
    for table in Base.metadata.tables.values():
        row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{table.name}`"))
        missing = [column.name for column in table.columns if f"`{column.name}`" not in row]
        assert not missing, f"{table.name}: {missing}"
