"""The report page: one file of HTML that opens without a network."""

from ridefront.report.page.page import page, write_page

__all__ = ["page", "write_page"]
