"""`python -m goodlength` is the command line."""

from goodlength.cli import main

main()
