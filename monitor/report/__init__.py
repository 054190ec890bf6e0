"""The customer's week: one customer's view of a week, as PDF, workbook, page and data."""

from monitor.report.due import Due, ReportStatus, due
from monitor.report.files import House, Output, as_sent, folder_of, house_of, make, write
from monitor.report.register import MADE, REGISTER, FigureChange, SentReport, add, changes, last_sent, read
from monitor.report.view import CustomerWeek, view_of
from monitor.report.week import PlantWeek, Range, customers_of, gather, last_week, range_of

__all__ = [
    "MADE",
    "REGISTER",
    "CustomerWeek",
    "Due",
    "FigureChange",
    "House",
    "Output",
    "PlantWeek",
    "Range",
    "ReportStatus",
    "SentReport",
    "add",
    "as_sent",
    "changes",
    "customers_of",
    "due",
    "folder_of",
    "gather",
    "house_of",
    "last_sent",
    "last_week",
    "make",
    "range_of",
    "read",
    "view_of",
    "write",
]
