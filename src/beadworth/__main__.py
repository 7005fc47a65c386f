"""``python -m beadworth`` is the ``beadworth`` command."""

from beadworth.cli import main

if __name__ == "__main__":
    main()
