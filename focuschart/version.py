"""The version, in a module of its own so that no room imports the face that stands on it."""

__version__ = "0.1.0"
