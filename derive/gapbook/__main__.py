"""The gapbook command from its first moment on: `gapbook` and `python -m gapbook`."""

from __future__ import annotations

from typing import NoReturn

from gapbook.commands import interrupts


def main() -> NoReturn:
    """Run the command line, `commands.app`, which takes a while to import."""
    interrupts.end_at_once()
    from gapbook.commands.app import main as run

    run()


if __name__ == "__main__":
    main()
