"""Alembic migrations of the bench, shipped with the package and run when a bench is opened."""
