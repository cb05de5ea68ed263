"""`python -m gapbook`."""

from gapbook.commands.app import main

main()
