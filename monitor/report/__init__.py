"""The customer's week: one customer's view of a week, as PDF, workbook, page and data."""

from monitor.report.due import Due, ReportStatus, due
from monitor.report.files import Branding, Output, as_sent, branding_of, folder_of, make, write
from monitor.report.register import MADE, REGISTER, FigureChange, SentReport, add, changes, last_sent, read
from monitor.report.view import CustomerWeek, view_of
from monitor.report.week import PlantWeek, Range, customers_of, gather, last_week, range_of

__all__ = [
    "MADE",
    "REGISTER",
    "Branding",
    "CustomerWeek",
    "Due",
    "FigureChange",
    "Output",
    "PlantWeek",
    "Range",
    "ReportStatus",
    "SentReport",
    "add",
    "as_sent",
    "branding_of",
    "changes",
    "customers_of",
    "due",
    "folder_of",
    "gather",
    "last_sent",
    "last_week",
    "make",
    "range_of",
    "read",
    "view_of",
    "write",
]
