"""Setup sheets: what a workshop orders, fits and measures, and what a chassis engineer asks about it.

setup       what a sheet is about: setups at rest and on every road, beside the present one
lines       blocks, tables of figures beside present ones, changes in words
springs     dampers  stops  heights: for the workshop
axles       modes  travel  rides  speeds: for the chassis engineer
trials      the setup with one part changed; moves: what that buys, and what holds it
head        who, what, when; what to bear in mind
markdown    blocks as text that no name in a study can break
written     the whole; files: where it goes, and what it takes the place of
"""

from ridefront.report.sheet.files import Written, write_sheets
from ridefront.report.sheet.written import Sheet, sheets_of

__all__ = ["Sheet", "Written", "sheets_of", "write_sheets"]
