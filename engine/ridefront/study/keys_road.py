"""Rows of the table of keys for roads and for the conditions in which they are driven."""

from __future__ import annotations

from ridefront.study.key import TWO_SIDES, Key

ROADS: tuple[Key, ...] = (
    Key("road", "name", "text", "as conditions name it", required=True),
    Key(
        "road", "kind", "word", "random road of ISO 8608, a level road with obstacles, or a measured profile",
        words=("iso8608", "obstacle", "measured"), required=True,
    ),
    Key(
        "road", "class", "word", "iso8608: geometric mean of the class, 16·10⁻⁶ m³ for A, four times as much a letter",
        words=tuple("ABCDEFGH"),
    ),
    Key(
        "road", "roughness", "quantity", "iso8608: displacement spectrum at 0.1 cycles/m, instead of class",
        unit="m^3",
    ),
    Key("road", "waviness", "quantity", "iso8608: exponent of the spectrum; with roughness", default=2.0),
    Key(
        "road", "band", "pair",
        "iso8608: [lowest, highest] spatial frequency, nothing outside it; 0.011 to 2.83 unless given", unit="1/m",
    ),
    Key(
        "road", "tracks", "word",
        "iso8608: left and right tracks of a surface that is alike in all directions, the vehicle's mean track apart, "
        "or one as the other",
        words=("isotropic", "equal"), default="isotropic", models=TWO_SIDES,
    ),
    Key(
        "road", "shape", "word", "obstacle: what it looks like from the side",
        words=("half-sine", "versine", "flat-top", "arc", "cleat", "step"),
    ),
    Key("road", "height", "quantity", "obstacle: at its highest; negative for a pothole", unit="m", sign="any"),
    Key(
        "road", "length", "quantity",
        "iso8608: over which largest travels are expected, 1000 m unless given; obstacle: of one obstacle's base",
        unit="m",
    ),
    Key("road", "top", "quantity", "obstacle: flat part within the base of a flat-top", unit="m"),
    Key("road", "lead", "quantity", "obstacle: level road before it", unit="m", sign="not negative", default=1.0),
    Key(
        "road", "run_out", "quantity",
        "obstacle: level road after the last one; the wheelbase and five seconds of driving unless given", unit="m",
        sign="not negative",
    ),
    Key("road", "road_length", "quantity", "obstacle: of the whole road, instead of run_out", unit="m"),
    Key("road", "count", "whole", "obstacle: how many in a train", default=1, least=1, most=10_000),
    Key("road", "spacing", "quantity", "obstacle: from start to start in a train", unit="m"),
    Key(
        "road", "sizes", "tables",
        "obstacle: a train's mix of sizes, each as often as the others, in an order drawn from the seed; instead of "
        "height, length and top",
    ),
    Key(
        "road", "side", "word", "obstacle: whose wheels meet it; quarter and half cars meet it either way",
        words=("both", "left", "right"), default="both",
    ),
    Key(
        "road", "realisations", "whole",
        "how many different ones are driven in the time domain: 8 random roads unless given; 1 train of mixed sizes",
        least=1, most=4096,
    ),
    Key(
        "road", "file", "text",
        "measured: path of a CSV or Parquet file from the study file's folder; see Measured roads",
    ),
    Key(
        "road", "columns", "values",
        "measured: names of the columns to take, distance first, then one or two heights; the usual names unless given",
    ),
    Key(
        "road", "gaps", "word", "measured: what to do where spacing is over 3 times its median",
        words=("refuse", "interpolate"), default="refuse",
    ),
    Key(
        "road", "spikes", "word", "measured: what to do with single samples that stick out by over 50 mm",
        words=("refuse", "remove"), default="refuse",
    ),
    Key(
        "road", "spectrum", "word",
        "measured: rides in the frequency domain take its estimated spectrum; driven in the time domain always unless "
        "given", words=("estimated",),
    ),
    Key("road.sizes", "height", "quantity", "as of a road", unit="m", sign="any", required=True),
    Key("road.sizes", "length", "quantity", "as of a road", unit="m", required=True),
    Key("road.sizes", "top", "quantity", "as of a road", unit="m"),
    Key("condition", "road", "text", "name of a road", required=True),
    Key("condition", "speed", "quantities", "one or a list", unit="m/s", required=True),
    Key("condition", "load", "names", "name of a load, or a list; the reference load unless given"),
    Key(
        "condition", "weight", "quantity", "share of time, on any scale; its speeds and loads share it equally",
        default=1.0,
    ),
    Key(
        "condition", "exposure", "quantity",
        "time for which the condition is driven; vibration_dose grows with its fourth root; one passage of the road "
        "unless given; not on obstacles", unit="s",
    ),
)  # fmt: skip
"""In the order in which the reference shows them."""
