"""Measured roads in a study: how files are read, every mistake in them, what counts, and how they are driven."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from ridefront.errors import StudyError
from ridefront.evaluate import Evaluator
from ridefront.report.at_rest import conditions
from ridefront.report.doubts import doubts
from ridefront.road import Profile, Road
from ridefront.road.measured import Array
from ridefront.road.realisation import realisation
from ridefront.study import Study, read_study
from ridefront.study.digest import figures_digest, figures_meaning
from study_texts import CORNER, changed

RANDOM = 'kind = "iso8608"\nclass = "B"'
MEASURED = 'kind = "measured"\nfile = "roads/lane.csv"'
X = 0.25 * np.arange(481, dtype=np.float64)
Z = 0.01 * np.sin(X) + 0.002 * np.cos(7 * X)
"""120 m every 250 mm."""


def csv(x: Array = X, *heights: Array, head: str = "distance [m],height [mm]", scale: float = 1e3) -> str:
    columns = zip(x, *(scale * z for z in heights), strict=True)
    rows = [",".join(f"{value:.9g}" for value in each) for each in columns]
    return "\n".join([head, *rows]) + "\n"


LANE = csv(X, Z)


def write(folder: Path, content: str | bytes = LANE, *more: str, name: str = "lane.csv", text: str = CORNER) -> Path:
    """A study of a corner on a measured road, beside its file."""
    (folder / "roads").mkdir(exist_ok=True)
    (folder / "roads" / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    file = folder / "study.toml"
    road = "\n".join([MEASURED.replace("lane.csv", name), *more])
    file.write_text(changed(text, (RANDOM, road)), encoding="utf-8")
    return file


def profile_of(study: Study) -> Profile:
    (road,) = study.roads
    assert isinstance(road, Profile)
    return road


def lines_of(file: Path) -> list[str]:
    """Every mistake in a line each, less the name of the study file and the road's place in it."""
    with pytest.raises(StudyError) as caught:
        read_study(file)
    return [mistake.line("study.toml").removeprefix("study.toml: road[1].") for mistake in caught.value.mistakes]


def test_a_profile_is_read_in_si_and_kept_as_it_was(tmp_path: Path) -> None:
    study = read_study(write(tmp_path))
    road = profile_of(study)
    assert (road.name, road.file, road.notes) == ("B", "roads/lane.csv", ())
    assert road.step == pytest.approx(0.25)
    line = np.polyval(np.polyfit(X, Z, 1), X)
    np.testing.assert_allclose(road.driven, Z - line, atol=1e-9)
    assert study.profiles[0].text == LANE.encode()
    assert not road.estimated


def parquet(**columns: tuple[Array, str | None]) -> bytes:
    fields = [
        pa.field(name, pa.float64(), metadata=None if unit is None else {"unit": unit})
        for name, (_, unit) in columns.items()
    ]
    sink = pa.BufferOutputStream()
    pq.write_table(
        pa.Table.from_arrays([pa.array(each) for each, _ in columns.values()], schema=pa.schema(fields)), sink
    )
    return bytes(sink.getvalue().to_pybytes())


@pytest.mark.parametrize(
    ("content", "more", "name"),
    [
        (csv(X, Z, head="distance,height", scale=1.0), (), "lane.csv"),
        ("\ufeff# lane\r\n\r\n" + LANE.replace("\n", "\r\n"), (), "lane.csv"),
        (csv(X, 0 * Z, Z, head="s[m], x, z [ mm ]"), ('columns = ["s", "z"]',), "lane.csv"),
        (parquet(distance=(X, "m"), height=(1e3 * Z, "mm")), (), "lane.parquet"),
        (parquet(s=(1e-3 * X, "km"), other=(X, "kg"), z=(Z, None)), ('columns = ["s", "z"]',), "lane.parquet"),
    ],
    ids=["plain SI", "comments and line ends", "named columns", "Parquet", "Parquet, named columns"],
)  # fmt: skip
def test_how_it_is_written_does_not_count(
    tmp_path: Path, content: str | bytes, more: tuple[str, ...], name: str
) -> None:
    road = profile_of(read_study(write(tmp_path, content, *more, name=name)))
    (tmp_path / "other").mkdir()
    np.testing.assert_allclose(road.driven, profile_of(read_study(write(tmp_path / "other"))).driven, atol=1e-8)


def test_digest_is_of_heights(tmp_path: Path) -> None:
    study = read_study(write(tmp_path))
    assert figures_digest(read_study(write(tmp_path, "# measured in May\n" + LANE))) == figures_digest(study)
    other = figures_digest(read_study(write(tmp_path, csv(X, Z + 1e-5 * (X == 30)))))
    assert other != figures_digest(study)
    assert figures_digest(read_study(write(tmp_path, LANE, 'spectrum = "estimated"'))) != figures_digest(study)
    assert len(json.dumps(figures_meaning(study))) < 4000, "heights are not written into run.json"


def cut(k: int) -> str:
    """Some metres gone after row k."""
    return csv(np.delete(X, slice(k, k + 8)), np.delete(Z, slice(k, k + 8)))


def spiked(k: int, by: float = 1.0) -> str:
    z = Z.copy()
    z[k] += by
    return csv(X, z)


def test_gaps_and_spikes_are_refused_unless_asked_for(tmp_path: Path) -> None:
    (gap,) = lines_of(write(tmp_path, cut(100)))
    assert gap.startswith('file: "roads/lane.csv" row 102: a gap: 2.25 m after the row before, 0.25 m is usual')
    assert 'gaps = "interpolate"' in gap
    (spike,) = lines_of(write(tmp_path, spiked(50)))
    assert "row 52: a spike: height" in spike
    assert 'spikes = "remove"' in spike
    plain = profile_of(read_study(write(tmp_path)))
    bridged = profile_of(read_study(write(tmp_path, cut(100), 'gaps = "interpolate"')))
    assert bridged.notes == ("1 gap bridged (2.25 m before row 102)",)
    assert bridged.driven.shape == plain.driven.shape
    far = np.abs(np.arange(481) - 104) > 8
    np.testing.assert_allclose(bridged.driven[far], plain.driven[far], atol=2e-4)
    study = read_study(write(tmp_path, spiked(50), 'spikes = "remove"'))
    road = profile_of(study)
    assert road.notes == ("1 spike of height removed (row 52)",)
    np.testing.assert_allclose(road.driven, plain.driven, atol=2.5e-3)
    assert any("1 spike of height removed (row 52)" in line for line in doubts(study))


TWO = csv(X, Z, Z, head="distance [m],left [mm],right [mm]")

SHORTER = re.sub(r"\n30,[^,]*,", "\n30,,", TWO)

FILES: list[tuple[str, str | bytes, tuple[str, ...], list[str]]] = [
    ("empty", "# nothing\n", (), ["the file is empty"]),
    ("no text", b"\xff\xfe\x00", (), ["row 1: not a text"]),
    ("no Parquet", b"PAR1", (), ["damaged, or not a Parquet file"]),
    ("columns", csv(X, Z, head="x [m],z [mm]"), (), ["row 1: columns", "columns = ["]),
    ("semicolons", LANE.replace(",", ";"), (), ["commas"]),
    ("unit", csv(X, Z, head="distance [m],height [kg]"), (), ['row 1: height in "kg"', "unit of length"]),
    ("no unit", csv(X, Z, head="distance [furlong],height [mm]"), (), ['row 1: distance in "furlong"']),
    ("no such column", LANE, ('columns = ["distance", "left"]',), ['no column called "left"']),
    ("near column", LANE, ('columns = ["distanze", "height"]',), ['nearest: "distance"']),
    ("one track shorter", SHORTER, (), ["row 122: left nothing", "a finite number, in mm"]),
    ("no number", LANE.replace("\n2.5,", "\n2.5,nan#"), (), ['row 12: height "nan#', "finite"]),
    ("decimal commas", LANE.replace("\n2.5,", "\n2,500000,"), (), ["row 12: 3 cells"]),
    ("falls", LANE.replace("\n2.5,", "\n1.500000,"), (), ["row 12: distance 1.5 m after 2.25 m", "rises"]),
    ("stands", LANE.replace("\n2.5,", "\n2.250000,"), (), ["row 12: distance 2.25 m after 2.25 m"]),
    ("beyond all measure", LANE.replace("\n2.5,", "\n2.5,1e9#").replace("#-", "\n2.6,").replace("#", "\n2.6,"), (),
     ["row 12: height 1e+06 m", "heights within 10000 m"]),
    ("a gap too long", LANE + "1e7,0\n", ('gaps = "interpolate"',), ["1e+07 m, with a sample every 0.25 m", "filled"]),
    ("one row", "distance,height\n1,1\n", (), ["1 row, too short for a road", "20 m or more"]),
    ("no rows", "distance,height\n", (), ["0 rows, too short for a road"]),
    ("short", csv(X[:60], Z[:60]), (), ["14.75 m of profile, too short for a road", "20 m or more"]),
    ("short spectrum", csv(X[:300], Z[:300]), ('spectrum = "estimated"',), ["too short for a spectrum", "100 m"]),
    ("level", csv(X, 0 * Z), ('spectrum = "estimated"',), ["level"]),
    ("coarse", csv(10 * X, Z), (), ["a sample every 2.5 m", "every 2 m at most"]),
]  # fmt: skip


@pytest.mark.parametrize(("content", "more", "words"), [row[1:] for row in FILES], ids=[row[0] for row in FILES])
def test_mistake_of_a_file(tmp_path: Path, content: str | bytes, more: tuple[str, ...], words: list[str]) -> None:
    name = "lane.parquet" if content == b"PAR1" else "lane.csv"
    lines = lines_of(write(tmp_path, content, *more, name=name))
    assert len(lines) == 1, lines
    assert lines[0].startswith(f'file: "roads/{name}"')
    for word in words:
        assert word in lines[0]


def test_mistakes_of_parquet(tmp_path: Path) -> None:
    z = Z.copy()
    z[3] = np.nan
    (line,) = lines_of(write(tmp_path, parquet(distance=(X, None), height=(z, "mm")), name="lane.parquet"))
    assert "row 4: height nan" in line
    table = pa.table({"distance": X, "height": ["a"] * len(X)})
    sink = pa.BufferOutputStream()
    pq.write_table(table, sink)
    (line,) = lines_of(write(tmp_path, bytes(sink.getvalue().to_pybytes()), name="lane.parquet"))
    assert 'column "height" holds string' in line


def test_all_mistakes_at_once_and_not_thousands(tmp_path: Path) -> None:
    rows = LANE.split("\n")
    rows[5], rows[9], rows[20] = "1,x", "2.0,1,1", "0.1,1"
    lines = lines_of(write(tmp_path, "\n".join(rows), "length = 3", 'gaps = "mend"'))
    assert len(lines) == 5
    for word in ("length: given for a measured road", 'gaps: "mend"', "row 6", "row 10", "row 21"):
        assert any(word in line for line in lines), word
    rows[1:] = [f"{k},x" for k in range(300)]
    lines = lines_of(write(tmp_path, "\n".join(rows)))
    assert len(lines) == 9
    assert "292 more rows" in lines[-1]


@pytest.mark.parametrize(
    ("road", "words"),
    [
        ('kind = "measured"', "file: missing; allowed: the path of a CSV or Parquet file"),
        ('kind = "measured"\nfile = 3', "file: 3 stands here"),
        ('kind = "measured"\nfile = "none.csv"', 'file: "none.csv": no such file'),
        ('kind = "measured"\nfile = "."', 'file: ".": not a file'),
        (MEASURED + '\nclass = "B"', 'class: given for a measured road; allowed: with kind = "iso8608" only'),
        (MEASURED + '\nshape = "arc"', 'shape: given for a measured road; allowed: with kind = "obstacle" only'),
        (MEASURED + "\nrealisations = 2", "realisations: given for a measured road"),
        (MEASURED + '\ncolumns = ["a", "a"]', "columns: "),
        (MEASURED + '\ncolumns = "distance"', "columns: "),
        (MEASURED + '\nspectrum = "yes"', "spectrum: "),
        (RANDOM + '\nfile = "roads/lane.csv"', 'file: given for a random road; allowed: with kind = "measured" only'),
    ],
)
def test_mistake_of_a_key(tmp_path: Path, road: str, words: str) -> None:
    file = write(tmp_path)
    file.write_text(changed(CORNER, (RANDOM, road)), encoding="utf-8")
    (line,) = lines_of(file)
    assert line.startswith(words)


def test_check_says_what_is_driven(tmp_path: Path) -> None:
    (row,) = conditions(read_study(write(tmp_path, TWO))).rows
    assert row[1:5] == ("measured: roads/lane.csv, every 250 mm, two tracks", "120", "6.00", "1")
    said = " ".join(doubts(read_study(write(tmp_path, TWO))))
    assert "a quarter car drives the mean of its two tracks" in said
    assert "driven for 6.0 s" in said
    slow = changed(CORNER, ("speed = 20.0", "speed = 5.0"))
    assert "nothing above 10 Hz at 5.00 m/s" in " ".join(doubts(read_study(write(tmp_path, text=slow))))


MORE = '[[objective]]\ncriterion = "{0}"\n'


def test_which_criteria_are_meant(tmp_path: Path) -> None:
    """Figures of a stationary ride are, in the time domain that it always is; what is taken behind one obstacle is
    not."""
    read_study(write(tmp_path, text=CORNER + MORE.format("dynamic_load_coefficient") + MORE.format("wheel_lift_off")))
    (line,) = lines_of(write(tmp_path, text=CORNER + MORE.format("settling_time")))
    assert 'settling_time is taken behind one obstacle; on "B" it is refused' in line
    peak = CORNER + MORE.format("peak_acceleration")
    read_study(write(tmp_path, text=peak))
    (line,) = lines_of(write(tmp_path, LANE, 'spectrum = "estimated"', text=peak))
    assert "peak_acceleration on random roads needs the time domain" in line


def pair(folder: Path, response: str, *more: str) -> tuple[Study, Study]:
    """A corner on a random road of one realisation, and on that realisation as a measured road that starts once more
    where it ended."""
    road = Road("B", 64e-6, length=400.0, band=(0.011, 2.0), realisations=1)
    once = realisation(road, 0.0, None, 8000, seed=0, index=0)[0]
    head = f'response = "{response}"\nseed = 0\n'
    random = 'kind = "iso8608"\nroughness = "64e-6 m^3"\nlength = "400 m"\nband = [0.011, 2.0]\nrealisations = 1'
    text = head + CORNER + MORE.format("rattle_space")
    text += MORE.format("dynamic_load_coefficient")
    plain = folder / "random.toml"
    plain.write_text(changed(text, (RANDOM, random)), encoding="utf-8")
    x = 0.05 * np.arange(8001, dtype=np.float64)
    measured = write(folder, csv(x, np.append(once, once[0])), *more, text=text)
    return read_study(plain), read_study(measured)


def test_driving_a_profile_is_driving_the_realisation_it_came_from(tmp_path: Path) -> None:
    """A small study from end to end: rms figures within 1 %, peaks within 3 %. What is left is the run-up, a straight
    line off, and waves between samples."""
    plain, measured = pair(tmp_path, "time-domain")
    X = np.array([[16.0], [24.0], [34.0]])
    theirs, ours = Evaluator(plain).evaluate(X), Evaluator(measured).evaluate(X)
    labels = [item.label for item in plain.measures]
    assert (ours.status == 0).all()
    for k, label in enumerate(labels):
        rel = 0.03 if label == "rattle_space" else 0.01
        np.testing.assert_allclose(ours.values[:, k], theirs.values[:, k], rtol=rel, err_msg=label)
    assert np.isnan(ours.se).all(), "one road, no sampling error"


def test_measured_roads_are_driven_whatever_the_response(tmp_path: Path) -> None:
    _, in_time = pair(tmp_path, "time-domain")
    _, in_frequency = pair(tmp_path, "frequency-domain")
    X = np.array([[20.0]])
    assert not Evaluator(in_frequency).grids
    assert np.array_equal(Evaluator(in_frequency).evaluate(X).values, Evaluator(in_time).evaluate(X).values)
    found = Evaluator(in_frequency).pieces(X, ["comfort"])
    assert found.response == ("time-domain",)


def test_an_estimated_spectrum_gives_the_rides_of_the_road(tmp_path: Path) -> None:
    """400 m give a spectrum of some eight averages: rms figures to 5 % of those driven; linear corner."""
    _, measured = pair(tmp_path, "frequency-domain", 'spectrum = "estimated"')
    evaluator = Evaluator(measured)
    X = np.array([[16.0], [34.0]])
    criteria = ["comfort", "dynamic_load_coefficient"]
    by_spectrum = evaluator.pieces(X, criteria, "frequency-domain")
    driven = evaluator.pieces(X, criteria, "time-domain")
    assert set(by_spectrum.response) == {"frequency-domain"}
    assert set(driven.response) == {"time-domain"}
    np.testing.assert_allclose(by_spectrum.values, driven.values, rtol=0.05)
