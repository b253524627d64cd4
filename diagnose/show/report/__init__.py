"""The printed reasoning: one assessment as a self-contained HTML page or as Markdown."""

from __future__ import annotations

from diagnose.knowledge.lists import Term
from diagnose.show.report.html import report_html
from diagnose.show.report.markdown import report_markdown
from diagnose.show.report.particulars import Deed, Particulars, particulars_of
from diagnose.show.report.photos import Photo, read_photo

__all__ = ["Deed", "Particulars", "Photo", "Term", "particulars_of", "read_photo", "report_html", "report_markdown"]
