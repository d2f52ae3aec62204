"""Run the command line as `python -m locosim`."""

from locosim.cli import main

if __name__ == "__main__":
    main()
