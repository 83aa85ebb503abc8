"""Pictures of lives, costs and dates as SVG or PNG: the same bytes for the same data, with a text alternative.

The only room that knows matplotlib, and it loads it when a picture is drawn, not before.
"""

from planner.figures.calendar import TimelineRow, timeline, weeks_ahead
from planner.figures.costs import interval_cost
from planner.figures.lives import OwnPath, life_curve
from planner.figures.picture import Picture
from planner.figures.probability import probability_plot

__all__ = [
    "OwnPath",
    "Picture",
    "TimelineRow",
    "interval_cost",
    "life_curve",
    "probability_plot",
    "timeline",
    "weeks_ahead",
]
