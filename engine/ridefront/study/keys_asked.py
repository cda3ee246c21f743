"""The part of the table of keys that says what is asked of designs: objectives, constraints, catalogue, search."""

from __future__ import annotations

from ridefront.study.key import Key


def _looked_at(section: str) -> tuple[Key, ...]:
    """What objectives and constraints have in common."""
    return (
        Key(
            section, "criterion", "text",
            "name of a criterion, with .place behind it for one place instead of the worst", required=True,
        ),
        Key(
            section, "over", "word", "how conditions are combined; the criterion's own way unless given",
            words=("mean", "rms", "worst"),
        ),
        Key(section, "road", "names", "name of a road, or a list: only conditions on these count"),
        Key(section, "load", "names", "name of a load, or a list: only conditions under these count"),
        Key(
            section, "scatter", "scatter",
            "over vehicles built within the tolerances of `[scatter]`: their mean, or the figure that so many of them "
            "keep to or better; the design as drawn unless given",
        ),
        Key(
            section, "unit", "unit",
            "of the stored figure; unless given, the unit that a limit is written in, or the criterion's usual one",
        ),
    )  # fmt: skip


REQUIREMENTS = (
    *_looked_at("objective"),
    *_looked_at("constraint"),
    Key("constraint", "at_least", "limit", "lower limit: a number in the criterion's SI unit, or with a unit"),
    Key("constraint", "at_most", "limit", "upper limit, likewise; a constraint has one of the two or both"),
)

CATALOGUE = (
    Key("catalogue", "step", "limit", "the part comes in whole multiples of it"),
    Key("catalogue", "choices", "values", "the part comes in these values; the list may also stand alone"),
)

SETTINGS = (
    Key(
        "scatter", "samples", "whole", "vehicles built of each design; a power of two", default=32, least=16, most=1024,
    ),
    Key(
        "search", "sample", "whole", "quasi-random designs to begin with; a power of two, they are balanced only then",
        default=2048, least=2, most=2**24,
    ),
    Key("search", "population", "whole", "designs a generation; even", default=100, least=4, most=2**20),
    Key(
        "search", "generations", "whole", "after the sample; with response auto, those in the frequency domain",
        default=30, most=2**31 - 1,
    ),
    Key(
        "search", "refine", "whole",
        "after the generations: designs, at most, spent on walking to where nothing better is near, by slopes, and on "
        "filling in the front from there; 0 for none. Raise it and a finished run goes on, unless evaluations are "
        "bounded", default=4000, most=2**31 - 1,
    ),
    Key(
        "search", "simulated_generations", "whole",
        "with response auto: in the time domain, after the best designs have been worked out anew there", default=10,
        most=2**31 - 1,
    ),
    Key(
        "search", "simulated_refine", "whole", "with response auto: like refine, in the time domain, at the end",
        default=600, most=2**31 - 1,
    ),
    Key(
        "search", "start", "text",
        "an earlier result to begin with: the path of its folder or of its front.parquet, relative to the study file. "
        "It must be of the same variables; ranges and units may differ. Designs of its front within the ranges are "
        "asked before the sample, discrete values moved to the nearest admissible ones, 4096 at most. It is only read",
    ),
    Key("search", "until", "table", "what ends the search early; no such end unless given"),
    Key(
        "search", "certainty_share", "quantity",
        "where figures carry sampling error: evaluations on further held-out roads, as a share of those of the search, "
        "to tell which setups are surely on the front; 0 for not even a probability", sign="not negative", default=0.25,
    ),
    Key(
        "search.until", "evaluations", "whole",
        "designs in all, the present setup not counted, at most; generations leave to refinement, and the frequency "
        "domain to the time domain, what they are given",
        least=1, most=2**40,
    ),
    Key(
        "search.until", "seconds", "quantity",
        "of work, pauses not counted: once they are spent no further block is begun. With more of them the same run "
        "goes on", unit="s",
    ),
    Key(
        "search.until", "stalled_share", "quantity",
        "a stage ends when the hypervolume has grown by less than this share of itself over `stalled_generations`",
        sign="share",
    ),
    Key(
        "search.until", "stalled_generations", "whole",
        "generations, or blocks of refinement, over which it is looked at", default=10, least=1, most=2**31 - 1,
    ),
    Key("compute", "workers", "workers", '"all" cores, or how many; results do not depend on it', default="all"),
    Key(
        "compute", "kind", "word",
        "what workers are: threads start at once; processes take some seconds, and one that dies over a design "
        "does not end the run", words=("threads", "processes"), default="threads",
    ),
    Key(
        "compute", "cluster", "text",
        "address of a dask scheduler whose workers are taken instead, such as `tcp://host:8786`; needs the extra "
        "`cluster`",
    ),
)  # fmt: skip
