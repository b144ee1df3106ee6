"""``python -m phenocast.cli`` is the same as ``phenocast``."""

from phenocast.cli import main

if __name__ == "__main__":
    main()
