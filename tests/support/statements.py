"""Counts what a bench asks of its database, as a budget is counted."""

from contextlib import contextmanager

from sqlalchemy import event


@contextmanager
def statements(bench):
    """Every statement sent while it is open, the ones that begin a transaction too."""
    sent = []

    def listen(connection, cursor, statement, *_):
        sent.append(statement)

    event.listen(bench._engine, "before_cursor_execute", listen)
    try:
        yield sent
    finally:
        event.remove(bench._engine, "before_cursor_execute", listen)
