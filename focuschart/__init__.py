"""focuschart: the focus marks a dual-focus anamorphic rig needs."""

__version__ = "0.1.0"
