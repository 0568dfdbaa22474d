"""Plan an electric conversion before buying anything."""

__version__ = "0.1.0"
