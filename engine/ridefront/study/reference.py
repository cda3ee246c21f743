"""The study file's reference, written from the tables of keys and criteria.

``python -m ridefront.study.reference > studies/README.md``; a test compares the two.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator

from ridefront.criteria import CRITERIA, Criterion
from ridefront.road.measured import COARSEST, GAP, SHORTEST, SPIKE
from ridefront.road.roughness import SHORTEST_SPECTRUM
from ridefront.study.key import ALL_MODELS, Key
from ridefront.study.keys import SECTIONS
from ridefront.study.tables import MOST_ROWS
from ridefront.units import UNITS

_HEADS: tuple[tuple[str, str, str], ...] = (
    (
        "",
        "Top of the file",
        "The frequency domain works on one grid of frequencies for all designs: rms figures are within 0.01 % where "
        "every damping ratio of body and wheels is 0.02 or more, and may be off by 1 % at 0.01, by 8 % at 0.005, by "
        "more below. In the time domain a random or measured road is run up to for 6 s: a body whose swings die away "
        "with less than 0.3/s, a ratio of 0.05 at 1 Hz, has not swung up by then, and figures of short roads read low, "
        "by 12 % at 0.02. `ridefront check` says where ranges allow less damping than that takes; cars have more.",
    ),
    (
        "vehicle",
        "`[vehicle]`",
        "Data are for the whole vehicle, and per wheel for the axles: a study moves between models by one word, "
        "where it gives what the larger one needs. Keys that the smaller model does not use are checked and otherwise "
        "left alone, `ridefront check` lists them; a range on one of them has to become a value.\n\n"
        "The **reference position** is how the vehicle stands under the reference load. Clearances, travels and ratios "
        "belong to it: springs are taken to carry the reference load whatever their rate.",
    ),
    (
        "vehicle.body",
        "`[vehicle.body]`",
        "Sprung mass as given means without the masses of any load. Half and full cars need one of the three pitch "
        "inertias, a full car `roll_inertia` too; every model needs `mass` with `front_share` or "
        "`front_axle_to_mass_centre`, or `kerb_axle_loads`, or, in a quarter car, `corner_mass` alone. The body as "
        "given is alike left and right.",
    ),
    (
        "vehicle.axle",
        "`[vehicle.front]` and `[vehicle.rear]`",
        "Per wheel. Rates, damping, clearances and knee speeds are those of the part itself; with i its ratio, element "
        "travel over wheel travel, the wheel feels rates and damping times i², clearances and knee speeds over i. "
        "`bump_travel`, `rebound_travel`, `friction` and the tyre are at the wheel. Every axle of the model needs "
        "`unsprung_mass`, `spring_rate` or `spring_table`, `tyre_rate`, and `damping`, both of `damping_bump` and "
        "`damping_rebound`, or `damper_table`. A knee needs speed and share, a stop clearance and rate.\n\n"
        'Left and right are alike. A full car needs the `track` of both axles. On a beam (`axle = "beam"`) springs and '
        "their stops stand `spring_spacing` apart, dampers and friction `damper_spacing`: ratios, travels, clearances "
        "and friction count there instead of at the wheels.",
    ),
    (
        "range",
        "Ranges",
        "A vehicle quantity marked *range* may be a table instead of a value, and is then a design variable, named by "
        "its path such as `front.spring_rate`:\n\n"
        "```toml\n"
        'spring_rate = { low = "16 N/mm", high = "40 N/mm" }\n'
        'damping = { low = "1200 N*s/m", high = "6000 N*s/m", scale = "log" }\n'
        'bump_clearance = { low = "40 mm", high = "60 mm", step = "5 mm" }\n'
        'unsprung_mass = { choices = ["42 kg", "58 kg"] }\n'
        'spring_rate = { times = "front.spring_rate", low = 1.5, high = 3.5 }\n'
        "```",
    ),
    (
        "seat",
        "`[[seat]]`",
        "Used by half and full cars; a quarter car's comfort is where the body stands on its corner.",
    ),
    (
        "load",
        "`[[load]]`",
        "Masses on the body as given. Where loads stand in the file and none is the reference, the body as given is, "
        "under the name `kerb`.",
    ),
    ("load.masses", "`masses` of a load", ""),
    (
        "road",
        "`[[road]]`",
        "A random road needs `class` or `roughness`: G(n) = roughness · (n / 0.1 cycles/m)^-waviness within the band. "
        "In the time domain it is driven as sums of waves with this spectrum and phases drawn from the seed, which "
        "repeat after `length`.\n\n"
        "An obstacle needs `shape`, `height` and `length`, a train of them `count` and `spacing` as well. With h its "
        "height, L its length and x from its start: `half-sine` h sin πx/L, `versine` h/2 (1 - cos 2πx/L), `flat-top` "
        "straight ramps on both sides of `top`, `arc` a circular arc, `cleat` a rectangle, and `step`, which has no "
        "length, from h on. The tyre averages over `contact_patch`; where there is none, the vertical edges of cleats "
        "and steps rise over one sample.\n\n"
        "```toml\n"
        "[[road]]\n"
        'name = "speed hump"\n'
        'kind = "obstacle"\n'
        'shape = "arc"\n'
        'height = "75 mm"\n'
        'length = "3.7 m"\n'
        "[[road]]\n"
        'name = "potholes"\n'
        'kind = "obstacle"\n'
        'shape = "versine"\n'
        "count = 12\n"
        'spacing = "8 m"\n'
        'sizes = [ { height = "-30 mm", length = "0.6 m" }, { height = "-50 mm", length = "1 m" } ]\n'
        "```",
    ),
    ("road.sizes", "`sizes` of a road", ""),
    (
        "condition",
        "`[[condition]]`",
        "A condition is called `road @ speed, load`, with the speed as written; without loads, `road @ speed`.",
    ),
    (
        "objective",
        "`[[objective]]`",
        "At least one. A criterion without a place takes the worst of its places; conditions are then combined. A "
        "result's column is called after the criterion and place, with what differs from the usual in brackets: "
        "`damping_ratio (gross, smallest)`.",
    ),
    (
        "constraint",
        "`[[constraint]]`",
        'With `at_least` the smallest figure over places and, for `over = "worst"`, conditions must reach the limit; '
        "with `at_most` the largest.",
    ),
    (
        "catalogue",
        "`[catalogue]`",
        "Springs come in steps of rate, dampers in sets of valves. By the path of a quantity that has a range, the "
        "values that can be had; the search does not look at them. `ridefront choose` works out the catalogue's "
        "parts just below and above what it picks, and what rounding to them costs. A range with `step` or `choices` "
        "is a catalogue by itself; a quantity that is `times` another is meant as the quantity itself.\n\n"
        "```toml\n"
        "[catalogue]\n"
        'front.spring_rate = { step = "2 N/mm" }\n'
        'rear.spring_rate = ["62 N/mm", "68 N/mm", "75 N/mm"]\n'
        "```",
    ),
    (
        "scatter",
        "`[scatter]`",
        "Parts as built differ from the drawing: springs by some 5 %, dampers and tyres by some 15 % (common practice, "
        "no source). A vehicle quantity marked *scatter* may have a tolerance, fixed or with a range, by its path: a "
        "share above 0 and up to 50 %.\n\n"
        "```toml\n"
        "[scatter]\n"
        'front.spring_rate = "5 %"\n'
        'front.damping = "15 %"\n'
        "rear.spring_rate = 0.05\n"
        "samples = 32\n"
        "```\n\n"
        "- Of every design so many vehicles are built, the same draws for every design: each quantity times a factor "
        "of its own, uniform within 1 ± its tolerance. Left and right of an axle are built alike, because a corner's "
        "data are entered once. A quantity that is `times` another scatters as the quantity that results.\n"
        "- Free lengths and mounts are those of the design as drawn. A soft spring lets the body down on its stops, a "
        "stiff one, a light body or a stiff tyre lifts it; travels, clearances and reserves count from where the "
        "design as drawn stands.\n"
        '- An objective or constraint with `scatter = "mean"` is the mean of the built vehicles; with '
        '`scatter = "90 %"` the figure that nine of ten of them are at least as good as. Such a figure costs as many '
        "rides as vehicles are built; others are of the design as drawn, and cost no more than without. A share is "
        "read off the sorted figures, each in the middle of its own 1/samples, straight between them.\n"
        "- A design of which a built vehicle has no figures, where such a figure is asked for, has none itself.\n"
        "- Whether an objective uses it or not, a finished front has every figure's 5 % and 95 % of scatter.",
    ),
    ("search", "`[search]`", ""),
    ("search.until", "`[search.until]`", ""),
    ("compute", "`[compute]`", ""),
)

_INTRODUCTION = """# Studies

A study is a TOML file: what is known of a vehicle, ranges for what is not, roads and loads, and what to make small or
large. The studies in this folder run as they are: `ridefront run studies/corner-hatchback.toml`; their vehicles are
invented. `ridefront check FILE` names every mistake in a file, a line each.

This page is written from the tables that the program itself uses: `python -m ridefront.study.reference`.

## Quantities

A quantity is a number in SI, or a text with a unit: `22000` or `"22 N/mm"`. Units are combined with `*` or `·`, `/`
and `^` or `²`, `³`: {units}.
Angles are no plain numbers: a ratio in degrees is refused.
"""


_TABLES = """## Tables of springs and dampers

Where a bench has measured a spring or a damper, its curve may stand instead of rates: `spring_table` and `damper_table`
name CSV files, by paths from the study file's folder.

```
# rear spring, bench of 3 May
travel [mm],force [N]
-90,1160
-40,2390
0,3420
45,4700
80,6100
```

- Text in UTF-8, cells parted by commas, decimals by points. Lines that start with `#` and empty ones do not count.
- The first line is a header with exactly two columns: `travel` and `force` for a spring, `speed` and `force` for a
  damper, each with its unit in square brackets. Without brackets a column is in SI.
- Travel and speed are those of the spring or damper itself, positive in bump; force pushes the body up when positive. A
  spring is measured from the reference position, travel 0. What force it has there is taken off: as with a plain rate,
  it carries its share of the reference load, whatever that is.
- Two to {most} rows. Travel or speed rises from row to row; so does a spring's force, and a damper's does not fall.
  Travel includes 0; speed has rows on both sides of 0, where the damper has no force: the gas's goes into `gas_force`.
- The curve is straight between rows, and goes on beyond the first and the last with the slope it has there.

`spring_scale` and `damper_scale` multiply the forces of a table, and may have ranges: a study moves a measured damper
up and down as a whole.

A `gas_force` pushes the body up at any travel. It takes part of the load off the spring, which `ridefront check` shows,
and changes nothing in how the vehicle rides. The stiffness that gas adds belongs to the spring.
"""

_MEASURED = """## Measured roads

A `[[road]]` of `kind = "measured"` names a file of heights along the way, by a path from the study file's folder:
CSV, or Parquet where the name ends so.

```
# lane at the mill, both wheel tracks
distance [m],left [mm],right [mm]
0.00,12.1,10.8
0.05,12.4,10.6
```

- CSV is written as the tables of springs are. Columns are `distance` and `height`, or `distance`, `left` and `right`,
  each with its unit in square brackets, in metres without. In Parquet a column's unit stands in its field's metadata,
  `unit`. `columns = ["s", "left"]` takes columns of other names, or some of many.
- Distance rises from row to row; {shortest:g} m at least ({spectrum:g} m for a spectrum), a sample every {coarsest:g}
  m or closer.
- A gap is a spacing over {gap:g} times the median; a spike is a single sample over {spike:g} mm off the median of the
  five about it and off both neighbours. Both are refused with their rows, unless the study has `gaps = "interpolate"`
  or `spikes = "remove"`; `ridefront check` then says what was done.
- Spacings within 1 % of their median count as even; others are made even at the median. A straight line is taken off;
  waves longer than the road stay. Between samples the height is a cubic spline, averaged over the contact patch.
- The road is driven as it is, once, whatever `response` is: no realisations, no standard errors, and no other road to
  hold a front against. It is run up to on the mirror image of its beginning, from level. Of two tracks, quarter and
  half cars drive the mean.
- With `spectrum = "estimated"` rides in the frequency domain take its spectrum (Welch's method, smoothed to thirds of
  octaves, nothing outside what the profile shows), and only rides in the time domain drive the road itself.

`ridefront road FILE` shows how rough a file is: spectrum, class of ISO 8608, waviness, International Roughness Index.
"""


def reference() -> str:
    """The page, in Markdown."""
    return "\n".join(_lines())


def _lines() -> Iterator[str]:
    yield _INTRODUCTION.format(units="; ".join(f"`{group.replace(' ', '` `')}`" for group in UNITS))
    for section, head, text in _HEADS:
        yield f"## {head}\n"
        if text:
            yield f"{text}\n"
        yield from _table(
            ("key", "value", "unless given", "what it is"), (_row(row) for row in SECTIONS[section].values())
        )
    yield _TABLES.format(most=MOST_ROWS)
    yield _MEASURED.format(shortest=SHORTEST, spectrum=SHORTEST_SPECTRUM, coarsest=COARSEST, gap=GAP, spike=1e3 * SPIKE)
    yield from _present()
    yield from _criteria()


def _row(row: Key) -> tuple[str, ...]:
    usual = "**needed**" if row.required else _default(row)
    return (
        f"`{row.name}`",
        _value(row) + (", *range*" if row.varies else "") + (", *scatter*" if row.scatters else ""),
        usual,
        row.description + _only(row.models),
    )


def _only(models: tuple[str, ...]) -> str:
    """Which models, where not all."""
    if models == ALL_MODELS:
        return ""
    sizes = " and ".join(model.removesuffix("-car") for model in models)
    return f" ({sizes} car{'s' * (len(models) > 1)} only)"


def _default(row: Key) -> str:
    if row.default is None:
        return ""
    if isinstance(row.default, float) and row.unit != "1":
        return f"{row.default:g} {row.unit}"
    if row.kind in ("word", "workers"):
        return f'`"{row.default}"`'
    return f"{row.default:g}" if isinstance(row.default, float) else str(row.default)


def _value(row: Key) -> str:
    signs = {"positive": " > 0", "not negative": " ≥ 0", "share": " between 0 and 1", "any": ""}
    if row.kind in ("quantity", "quantities", "pair"):
        text = f"{'number' if row.unit == '1' else row.unit}{signs[row.sign]}"
        return {"pair": "list of two: ", "quantities": "one or a list: "}.get(row.kind, "") + text
    if row.kind == "word":
        return ", ".join(f'`"{word}"`' for word in row.words)
    spoken = {
        "whole": f"whole number from {row.least} to {row.most}" if row.section else f"whole number from {row.least} on",
        "names": "text or list of texts",
        "limit": "number or text with a unit",
        "values": {"present": "table of values by path", "catalogue": "table of parts by path"}.get(
            row.name, "list of values"
        ),
        "workers": '`"all"` or a whole number from 1 on',
        "flag": "true or false",
        "table": f"`[{row.section}.{row.name}]`" if row.section else f"`[{row.name}]`",
        "tables": "list of tables" if row.section else f"`[[{row.name}]]`",
        "unit": "text",
        "curve": "text: path of a CSV file",
        "scatter": '`"mean"`, or a share from 50 % to below 100 %',
    }
    return spoken.get(row.kind, row.kind)


def _present() -> Iterator[str]:
    yield (
        "## `[present]`\n\n"
        "Today's setup: one value for every quantity that has a range, by its path, and nothing else. A "
        "quantity that is `times` another is given as the quantity itself.\n\n"
        '```toml\n[present]\nfront.spring_rate = "27 N/mm"\nrear.spring_rate = "68 N/mm"\n```\n'
    )


def _criteria() -> Iterator[str]:
    yield (
        "## Criteria\n\n"
        "For objectives and constraints. *Small* or *large* is what an objective makes them; a criterion with neither "
        "can only be limited. A limit without a unit is in the SI unit.\n\n"
        "Places: `front`, `rear`, a seat's name, or `body` for the body's centre of mass. In a full car `front` and "
        "`rear` are the worse of both wheels, and `front_left`, `front_right`, `rear_left`, `rear_right` are wheels.\n"
    )
    yield from _table(
        ("criterion", "results in", "SI", "wanted", "places", "conditions", "what it is", "formula"),
        map(_criterion, CRITERIA.values()),
    )


def _criterion(row: Criterion) -> tuple[str, ...]:
    places = {"corner": "axles, wheels", "seat": "seats", "vehicle": ""}[row.places]
    over = {"condition": f"`{row.over}`", "load": "worst load", "design": ""}[row.kind]
    needs = f"; needs {' and '.join(f'`{need}`' for need in row.needs)}" if row.needs else ""
    formula = row.formula.split("; (n,)")[0].split(": ")[0].rstrip(".;")
    return (
        f"`{row.name}`",
        row.display_unit,
        row.unit,
        row.sense or "",
        places,
        over,
        row.description + needs + _only(row.models),
        formula,
    )


def _table(heads: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> Iterator[str]:
    yield f"| {' | '.join(heads)} |"
    yield f"|{' --- |' * len(heads)}"
    for row in rows:
        yield f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in row)} |"
    yield ""


if __name__ == "__main__":
    sys.stdout.write(reference())
