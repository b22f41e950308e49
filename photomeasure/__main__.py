"""`python -m photomeasure` is the same as the command."""

from photomeasure.cli import main

main()
