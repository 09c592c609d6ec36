"""The version of the program: the only place where it stands."""

__version__ = "0.1.0"
