"""The straight line from a kit to the solved chart of each rig."""

from __future__ import annotations

from focuschart.chart.charts import Charts, Solved, build_charts, solve
from focuschart.chart.model import RigChart, RingMarks

__all__ = ["Charts", "RigChart", "RingMarks", "Solved", "build_charts", "solve"]
