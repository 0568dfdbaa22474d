"""The plan as one page to look at: a single file that needs no network and no other file.

``blocks`` says what a page is made of, one module per section fills it, ``templates/`` turns it
into HTML. Base page and styles (``base.html.j2``, ``style.css``) know nothing of this report, so
that other printed sheets can stand on them.
"""

from bomplan.report.page.report import report_bytes, wished

__all__ = ["report_bytes", "wished"]
