"""The plan as a spreadsheet to budget and shop from: live formulas, each with its value stored.

One module per sheet. Same plan, same bytes: the only date in the file is the plan's own.
"""

from bomplan.report.workbook.book import workbook_bytes

__all__ = ["workbook_bytes"]
