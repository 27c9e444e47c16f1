"""``python -m inspect_rec`` is the command line."""

from inspect_rec.cli import main

main()
