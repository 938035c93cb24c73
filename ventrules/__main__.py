"""`python -m ventrules`."""

from ventrules.cli import main

main()
