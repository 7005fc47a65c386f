"""The store of everything one workshop has measured: tables, migrations, history, backup."""
