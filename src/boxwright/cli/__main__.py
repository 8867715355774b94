"""``python -m boxwright.cli``: the same command."""

from boxwright.cli import main

main()
