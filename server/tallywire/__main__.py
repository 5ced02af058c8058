"""`python -m tallywire` is the same as `tallywire`."""

from tallywire.cli.main import main

if __name__ == "__main__":
    raise SystemExit(main())
