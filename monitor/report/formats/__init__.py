"""A report as PDF, page, workbook, data; its charts."""
