"""The report page: one file of HTML that opens without a network."""

from ridefront.report.page.page import look_before, page, write_page

__all__ = ["look_before", "page", "write_page"]
