"""`python -m venue` is the `venue` command."""

from venue.cli.main import main

if __name__ == "__main__":
    main()
