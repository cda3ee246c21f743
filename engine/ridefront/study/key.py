"""What one key of a study file is; the table of all of them is in `ridefront.study.keys`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "quantity", "quantities", "pair", "limit", "text", "word", "whole", "names", "unit", "workers", "flag", "table",
    "tables", "values", "curve", "scatter",
]  # fmt: skip
Sign = Literal["positive", "not negative", "share", "any"]

ALL_MODELS = ("quarter-car", "half-car", "full-car")
TWO_AXLES = ("half-car", "full-car")
TWO_SIDES = ("full-car",)


@dataclass(frozen=True)
class Key:
    """One key of a study file.

    Attributes:
        section: the table it stands in: empty for the top, ``vehicle``, ``vehicle.axle`` (front and rear), ``load`` ...
        name: of the key.
        kind: what its value is: "quantity" a number or a text with a unit, "pair" two of them, "quantities" one or a
            list, "limit" a quantity in the criterion's unit, "text" any text, "word" one of `words`, "whole" a whole
            number, "curve" the path of a table of measured points, "names" a text or a list of texts, "unit" a unit,
            "flag" true or false, "table" and "tables" further keys, "scatter" how vehicles built within
            tolerances count.
        description: in a line or two, for people.
        unit: SI unit of a quantity.
        sign: what a quantity may be; "share" is between 0 and 1, ends excluded.
        default: in SI; None where there is none.
        required: whether the key must be given whatever else is.
        words: allowed values of a "word".
        least, most: smallest and largest value of a "whole".
        models: that use it.
        varies: whether a range may stand instead of a value.
        scatters: whether it may have a tolerance.
    """

    section: str
    name: str
    kind: Kind
    description: str
    unit: str = "1"
    sign: Sign = "positive"
    default: float | str | None = None
    required: bool = False
    words: tuple[str, ...] = ()
    least: int = 0
    most: int = 2**63 - 1
    models: tuple[str, ...] = ALL_MODELS
    varies: bool = False
    scatters: bool = False
