"""The studies that a call names: files, folders of files, and run folders, whose studies are repeated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ridefront.errors import ResultError, RidefrontError
from ridefront.results.names import RECORD
from ridefront.results.record import Record, differences, versions
from ridefront.results.stored import stored_study
from ridefront.results.tables import file_errors
from ridefront.study import read_study
from ridefront.study.model import Study
from ridefront.study.start import front_file

NO_STUDY = "no study in it; allowed: a folder with studies (.toml), or the folder that a run has written"


@dataclass
class Named:
    """What a call names.

    Attributes:
        studies: in the order of the call, files of a folder sorted by name.
        errors: why others cannot be run, a text each.
        repeated: the folder of the finished run that a study repeats, by the study's stem.
        notes: what to know of those that are repeated.
    """

    studies: list[Study] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    repeated: dict[str, Path] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def named(paths: Sequence[Path], output: Path) -> Named:
    """Reads and checks every study that a call names.

    Args:
        paths: a study's file each; or a folder, of which every .toml file directly in it is taken; or a run's folder,
            of which the study is taken as it was read then, with the copies of its tables.
        output: folder into which results go.
    """
    found = Named()
    for path in paths:
        try:
            if (path / RECORD).is_file():
                _repeat(path, output, found)
                continue
            for file in _files(path) if path.is_dir() else (path,):
                _read(file, found)
        except RidefrontError as error:
            found.errors.append(str(error))
    stems = [study.stem for study in found.studies]
    twice = sorted({stem for stem in stems if stems.count(stem) > 1})
    if twice:
        found.errors.append(
            f"studies that would write into the same folder: {', '.join(twice)}\n"
            "  Rename their files, or call them one by one with another --output."
        )
    found.notes += [line for study in found.studies for line in _starts_within(study, found.studies, output)]
    return found


def _starts_within(study: Study, studies: Sequence[Study], output: Path) -> list[str]:
    """What to know of a study that starts with what another one of the call is to change."""
    if study.start is None:
        return []
    file = front_file(Path(study.path).parent, study.start.path).resolve()
    return [
        f"{study.path}: starts with {study.start.path} as it stands now, not as {other.path} of the same call will"
        " leave it; to start with that, call this one afterwards"
        for other in studies
        if other is not study and file.is_relative_to((output / other.stem).resolve())
    ]


def _read(file: Path, found: Named) -> None:
    try:
        found.studies.append(read_study(file))
    except RidefrontError as error:
        found.errors.append(str(error))


def _files(folder: Path) -> list[Path]:
    with file_errors(folder, "read"):
        files = sorted(file for file in folder.iterdir() if file.suffix == ".toml" and file.is_file())
    if not files:
        raise ResultError(f"{folder}: {NO_STUDY}")
    return files


def _repeat(folder: Path, output: Path, found: Named) -> None:
    study, record = stored_study(folder)
    own = output / study.stem
    if own.exists() and own.samefile(folder):
        raise ResultError(
            f"{folder}: to be repeated, and not into itself",
            "Give another --output; or the study's file, to go on with the run or, with --overwrite, to start anew.",
        )
    found.studies.append(study)
    if record["state"] == "done":
        found.repeated[study.stem] = folder
    found.notes += _unlike(folder, study, record)


def _unlike(folder: Path, study: Study, record: Record) -> list[str]:
    """What may make a repeated run come out otherwise."""
    lines = []
    if differences(record, study):
        lines.append(f"{folder}: was worked out by another version of this program; figures may come out otherwise")
    now = versions()
    unlike = [
        f"{name} {theirs}, here {now.get(name, 'none')}"
        for name, theirs in record["versions"].items()
        if theirs != now.get(name)
    ]
    if unlike:
        lines.append(f"{folder}: was run with {'; '.join(unlike)}; the last bits may come out otherwise")
    if study.search.seconds is not None:
        lines.append(
            f"{folder}: its study ends after a time (search.until.seconds), so another machine may get further"
        )
    return lines
