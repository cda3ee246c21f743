"""``[scatter]``: tolerances of parts, and how objectives and constraints count the vehicles built within them."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ridefront.errors import CallError
from ridefront.study.keys import AXLE_WORDS, CURVES, QUANTITIES
from ridefront.study.model import OverScatter, Scatter
from ridefront.study.page import Mistakes, Page, nearest, read_quantity, shown
from ridefront.study.settings import leaves
from ridefront.study.vehicle import Vehicle

LARGEST = Fraction(1, 2)
"""Tolerance of a part; one that may be off by more is another part."""

LEAST_SHARE = Fraction(1, 2)
"""Of built vehicles that a quantile asks for: less than half of them is no limit that they keep."""

TOLERANCE = 'a share above 0 and up to 50 %, such as "5 %" or 0.05'
OVER = '"mean", or a share of the built vehicles from 50 % to below 100 %, such as "90 %"'


def scatter_words(over: OverScatter) -> str:
    """How vehicles as built count, as labels say it."""
    return "mean over scatter" if over == "mean" else f"{100 * over:.10g} % of scatter"


def read_scatter(top: Page, vehicle: Vehicle, mistakes: Mistakes) -> tuple[Scatter | None, int | None]:
    """The tolerances of the file.

    Args:
        top: the file.
        vehicle: as read.
        mistakes: where they go.

    Returns:
        None where the file has none or something is wrong; and how many vehicles are built of a design, None where the
        file has no such table at all.
    """
    if "scatter" not in top:
        return None, None
    raw = top.table["scatter"]
    if not isinstance(raw, dict):
        top.note("scatter", f"{shown(raw)} stands here", "a table of tolerances by path")
        return None, Scatter({}).samples
    samples = _samples({key: value for key, value in raw.items() if key == "samples"}, mistakes)
    found: dict[str, float] = {}
    seen: set[str] = set()
    for path, key, value in leaves({name: value for name, value in raw.items() if name != "samples"}, key="scatter"):
        if path in seen:
            mistakes.add(key, "given twice", "one tolerance for each quantity")
        seen.add(path)
        tolerance = _tolerance(path, key, value, vehicle, mistakes)
        if tolerance is not None:
            found[path] = tolerance
    if not seen:
        mistakes.add("scatter", "no tolerance", f"paths of quantities, each with {TOLERANCE}")
    if not found or len(found) < len(seen):
        return None, samples
    return Scatter({path: found[path] for path in QUANTITIES if path in found}, samples), samples


def _samples(raw: dict[str, object], mistakes: Mistakes) -> int:
    page = Page(raw, "scatter", "scatter", mistakes)
    samples = page.whole("samples")
    if samples & (samples - 1):
        below = 1 << (samples.bit_length() - 1)
        page.note("samples", f"{samples} is not a power of two", "8, 16, 32, 64 ...", f"nearest: {below}")
        return 2 * below
    return samples


def _tolerance(path: str, key: str, value: object, vehicle: Vehicle, mistakes: Mistakes) -> float | None:
    if not _may_scatter(path, key, vehicle, mistakes):
        return None
    try:
        tolerance = read_quantity(value, "1").si
    except CallError as error:
        mistakes.add(key, error.message, TOLERANCE, error.hint)
        return None
    if not 0 < tolerance <= LARGEST:
        mistakes.add(key, f"{shown(value)} is out of bounds", TOLERANCE)
        return None
    highest = _highest(path, vehicle)
    if QUANTITIES[path].sign == "share" and highest is not None and highest * (1 + float(tolerance)) >= 1:
        found = f"{shown(value)} more than {highest:g} is 1 or above, and {path} is a share"
        mistakes.add(key, found, "less")
        return None
    return float(tolerance)


def _may_scatter(path: str, key: str, vehicle: Vehicle, mistakes: Mistakes) -> bool:
    """Whether a path is one of a quantity of the study that may have a tolerance; what is wrong is noted."""
    row = QUANTITIES.get(path)
    variables = {variable.path for variable in vehicle.variables}
    known = variables | vehicle.fixed.keys()
    here = [name for name, item in QUANTITIES.items() if item.scatters and name in known]
    allowed = ", ".join(name for name in here if vehicle.fixed.get(name) != 0)
    if row is None and path in CURVES:
        scale = path.replace("_table", "_scale")
        mistakes.add(key, "a table of measured points has no tolerance of its own", f"{scale}, which multiplies it")
    elif row is None:
        what = "a word has no tolerance" if path in AXLE_WORDS else "no quantity is called so"
        hint = nearest(path, here)
        mistakes.add(key, what, "" if hint else allowed, hint)
    elif not row.scatters:
        mistakes.add(key, "no property of a part, so it has no tolerance", allowed)
    elif path in vehicle.ranges and path not in variables:
        return True  # its range is wrong, which is noted already
    elif path not in here:
        given = path in vehicle.given
        found = f"not used by this {vehicle.model.replace('-', ' ')}" if given else "the study does not give it"
        mistakes.add(key, found, allowed)
    elif vehicle.fixed.get(path) == 0:
        mistakes.add(key, "is 0, and so is a share of it", "a quantity above 0, or no such key")
    else:
        return True
    return False


def _highest(path: str, vehicle: Vehicle) -> float | None:
    """The largest value that a quantity may have, SI."""
    for variable in vehicle.variables:
        if variable.path == path:
            base = 1.0 if variable.times is None else _highest(variable.times, vehicle)
            return None if base is None else variable.high * (base if variable.times else variable.factor)
    return vehicle.fixed.get(path)


def read_over_scatter(page: Page, samples: int | None) -> OverScatter | None:
    """How an objective or constraint counts the vehicles as built; None where it does not, or what it says is wrong.

    Args:
        page: of the objective or constraint.
        samples: vehicles built of a design; None where the study has no tolerances.
    """
    if "scatter" not in page:
        return None
    if samples is None:
        page.note("scatter", "given in a study without tolerances", "a table [scatter], or no such key")
        return None
    raw = page.table["scatter"]
    if raw == "mean":
        return "mean"
    try:
        share = read_quantity(raw, "1").si
    except CallError as error:
        hint = nearest(raw, ["mean"]) if isinstance(raw, str) else ""
        page.note("scatter", f"{shown(raw)} stands here", OVER, hint or error.hint)
        return None
    if not LEAST_SHARE <= share < 1:
        page.note("scatter", f"{shown(raw)} is out of bounds", OVER)
        return None
    if (1 - share) * 2 * samples < 1:
        needed = samples
        while (1 - share) * 2 * needed < 1:
            needed *= 2
        found = f"{shown(raw)} of {samples} built vehicles are all of them"
        page.note("scatter", found, f"less, or scatter.samples = {needed}" if needed <= 1024 else "less")
        return None
    return float(share)


def tolerances_in_words(scatter: Scatter) -> Iterator[tuple[str, str]]:
    """Each path and its tolerance as people write it."""
    for path, tolerance in scatter.tolerances.items():
        yield path, f"± {100 * tolerance:.6g} %"
