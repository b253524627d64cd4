"""`python -m diagnose` is the command `diagnose`."""

from diagnose.cli import main

if __name__ == "__main__":
    main()
