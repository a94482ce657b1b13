"""The straight line from a kit to the solved chart of each rig."""

from __future__ import annotations

from focuschart.chart.model import RigChart, RingMarks
from focuschart.chart.solve import Charts, Solved, build_charts, solve

__all__ = ["Charts", "RigChart", "RingMarks", "Solved", "build_charts", "solve"]
