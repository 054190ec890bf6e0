"""The customer's week: one customer's view of a week, as PDF, workbook, page and data."""

from monitor.report.gather import gather, last_week
from monitor.report.making import House, Output, as_sent, folder_of, house_of, make, write
from monitor.report.register import REGISTER, Sent, add, last_sent
from monitor.report.view import View, view_of

__all__ = [
    "REGISTER",
    "House",
    "Output",
    "Sent",
    "View",
    "add",
    "as_sent",
    "folder_of",
    "gather",
    "house_of",
    "last_sent",
    "last_week",
    "make",
    "view_of",
    "write",
]
