"""Charts: a frame goes in, a Plotly figure comes out; no files, no clock, no settings."""

from monitor.charts.certificate import certificate_chart
from monitor.charts.coil_rates import coil_rates_chart
from monitor.charts.flow import flow_chart
from monitor.charts.hours import hours_chart
from monitor.charts.pareto import pareto_chart
from monitor.charts.rates import rates_chart
from monitor.charts.strip import strip_svg
from monitor.charts.waterfall import waterfall_chart
from monitor.charts.wear import wear_chart

__all__ = [
    "certificate_chart",
    "coil_rates_chart",
    "flow_chart",
    "hours_chart",
    "pareto_chart",
    "rates_chart",
    "strip_svg",
    "waterfall_chart",
    "wear_chart",
]
