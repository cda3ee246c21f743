"""Roads with obstacles: their keys read, and every way noted in which these contradict each other."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from ridefront.road import SHAPES, Obstacle, Size
from ridefront.study.page import Page, expected, quoted, shown

OBSTACLE_KEYS = (
    "shape", "height", "top", "lead", "run_out", "road_length", "count", "spacing", "sizes", "side",
)  # fmt: skip
"""Keys of ``[[road]]`` that are an obstacle's alone."""

Exact = tuple[Fraction, Fraction, Fraction]
"""Height, length and top, m."""

_SIDES: dict[str, Literal["both", "left", "right"]] = {"both": "both", "left": "left", "right": "right"}


def read_obstacle(page: Page, name: str | None) -> Obstacle | None:
    """The obstacles of a ``[[road]]`` page; None where something is wrong with them, which is noted."""
    before = len(page.mistakes.found)
    shape, side = page.word("shape"), page.word("side")
    if "shape" not in page:
        page.note("shape", "missing", quoted(SHAPES))
    sizes = _sizes(page, shape)
    count = page.whole("count")
    spacing = _spacing(page, shape, count, sizes)
    lead, run_out, whole = (page.quantity(key) for key in ("lead", "run_out", "road_length"))
    if "run_out" in page and "road_length" in page:
        page.note("road_length", "given beside run_out", "one of the two")
    realisations = page.whole("realisations") if "realisations" in page else 1
    if realisations > 1 and "sizes" not in page:
        page.note("realisations", f"{realisations} of a road that is always the same", "1, or a train with sizes")
    if len(page.mistakes.found) > before or name is None or shape is None or lead is None or side is None:
        return None
    needed = lead.si + (count - 1) * spacing + max(length for _, length, _ in sizes)
    if whole is not None and whole.si < needed:
        found = f"{shown(page.table['road_length'])} is shorter than lead and obstacles together, {float(needed):g} m"
        page.note("road_length", found, f"{float(needed):g} m or more")
        return None
    given = tuple(Size(*(float(part) for part in size)) for size in sizes)
    mixed = "sizes" in page
    height, length, top = (0.0, 0.0, 0.0) if mixed else given[0]
    return Obstacle(
        name=name,
        shape=shape,
        height=height,
        length=length,
        top=top,
        lead=float(lead.si),
        run_out=None if run_out is None else float(run_out.si),
        count=count,
        spacing=float(spacing),
        sizes=given if mixed else (),
        side=_SIDES[side],
        realisations=realisations,
        road_length=None if whole is None else float(whole.si),
    )


def _sizes(page: Page, shape: str | None) -> tuple[Exact, ...]:
    """The sizes that are mixed, or the one that all obstacles have; those with a mistake are left out."""
    if "sizes" not in page:
        one = _size(page, shape)
        return () if one is None else (one,)
    for name in ("height", "length", "top"):
        if name in page:
            page.note(name, "given beside sizes", "height, length and top, or sizes for a train")
            page.quantity(name)
    pages = page.tables("sizes", "road.sizes")
    if shape is not None and SHAPES[shape].endless:
        page.note("sizes", f"given for a {shape}, which stands alone", "height")
        return ()
    if isinstance(page.table["sizes"], list) and len(pages) < 2:
        page.note("sizes", f"{len(pages)} of them, which leaves nothing to mix", "at least two")
    read = [_size(item, shape) for item in pages]
    return tuple(size for size in read if size is not None)


def _size(page: Page, shape: str | None) -> Exact | None:
    """Size of one obstacle from its own page or the road's; None where it has a mistake or the shape is not known."""
    before = len(page.mistakes.found)
    height, length, top = (page.quantity(name) for name in ("height", "length", "top"))
    if height is not None and height.si == 0:
        page.note("height", f"{shown(page.table['height'])} stands here", "a height, or a depth with a minus sign")
    if shape is None:
        return None
    _miss(page, "height")
    if SHAPES[shape].endless:
        if "length" in page:
            page.note("length", f"given for a {shape}, which does not end", "no such key")
    else:
        _miss(page, "length")
    if SHAPES[shape].ramps:
        _miss(page, "top")
    elif "top" in page:
        page.note("top", f"given for the shape {shape}", 'with shape = "flat-top" only')
    if len(page.mistakes.found) > before or height is None:
        return None
    size = (height.si, Fraction(0) if length is None else length.si, Fraction(0) if top is None else top.si)
    return size if _possible(page, shape, size) else None


def _miss(page: Page, name: str) -> None:
    """Note a key that is not there, unless the page was opened with it as a required one."""
    row = page.keys[name]
    if name not in page and not row.required:
        page.note(name, "missing", expected(row.unit, row.sign))


def _possible(page: Page, shape: str, size: Exact) -> bool:
    """Whether there is such an obstacle; what is wrong is noted."""
    height, length, top = size
    if SHAPES[shape].ramps and top >= length:
        found = f"{shown(page.table['top'])} is not shorter than the base"
        page.note("top", found, f"less than length, {float(length):g} m")
        return False
    if shape == "arc" and abs(height) > length / 2:
        found = f"{shown(page.table['height'])} is more than half the length of an arc, {float(length):g} m"
        page.note("height", found, f"{float(length / 2):g} m at most")
        return False
    return True


def _spacing(page: Page, shape: str | None, count: int, sizes: Sequence[Exact]) -> Fraction:
    """Start to start, m; 0 where one stands alone."""
    spacing = page.quantity("spacing")
    if shape is not None and SHAPES[shape].endless and count > 1:
        page.note("count", f"{count} of a {shape}, which does not end", "1, or another shape")
        return Fraction(0)
    if count == 1:
        # A count that cannot be read is noted already, and what hangs on it is not known.
        alone = page.table.get("count", 1) == 1
        for name in ("spacing", "sizes") if alone else ():
            if name in page and not (shape is not None and SHAPES[shape].endless and name == "sizes"):
                page.note(name, "given for one obstacle", "with a count of 2 or more")
        return Fraction(0)
    if "spacing" not in page:
        page.note("spacing", "missing", f"{expected('m', 'positive')}, from one start to the next")
    longest = max((length for _, length, _ in sizes), default=Fraction(0))
    if spacing is None:
        return Fraction(0)
    if spacing.si < longest:
        found = f"{shown(page.table['spacing'])} is shorter than an obstacle of {float(longest):g} m"
        page.note("spacing", found, f"{float(longest):g} m or more")
    return spacing.si
