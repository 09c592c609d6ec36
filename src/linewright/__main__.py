"""``python -m linewright`` does what the command ``linewright`` does."""

from linewright.cli import main

if __name__ == "__main__":
    main()
