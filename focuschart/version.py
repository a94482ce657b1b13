"""The version, in its own module so that other rooms need not import the package's face."""

__version__ = "0.1.0"
