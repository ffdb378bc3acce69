"""Run the command line as `python -m studwell`."""

from studwell.cli import main

if __name__ == "__main__":
    main()
