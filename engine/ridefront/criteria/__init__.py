"""From a ride to figures: what each criterion is (`table`), and how its pieces become one figure (`combine`)."""

from ridefront.criteria.table import CRITERIA, Criterion

__all__ = ["CRITERIA", "Criterion"]
