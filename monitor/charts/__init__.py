"""Charts: a frame goes in, a Plotly figure comes out; no files, no clock, no settings."""

from monitor.charts.flow import flow_chart
from monitor.charts.hours import hours_chart
from monitor.charts.pareto import pareto_chart
from monitor.charts.rates import rates_chart
from monitor.charts.waterfall import waterfall_chart

__all__ = ["flow_chart", "hours_chart", "pareto_chart", "rates_chart", "waterfall_chart"]
