"""run.json: what a run is of, with which versions, on which machine, how it stands."""

from __future__ import annotations

import json
import math
import os
import platform
import time
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, Literal

import ridefront
from ridefront.errors import ResultError
from ridefront.evaluate import Domain
from ridefront.evaluate.stepping import StepChoice
from ridefront.results.columns import COMPARED
from ridefront.results.tables import file_errors
from ridefront.road import has_spectrum
from ridefront.study.digest import engine_digest, figures_digest, figures_meaning, plan_digest, plan_meaning
from ridefront.study.model import Study

State = Literal["running", "interrupted", "done"]
Record = dict[str, Any]

_LIBRARIES = ("numpy", "numba", "llvmlite", "scipy", "pymoo", "moocore", "pyarrow")

_ENGINE = "the engine that works figures out"
_UNNAMED = "something that run.json does not name"


@cache
def versions() -> dict[str, str]:
    """Versions of everything on which a bit of the results may depend."""
    found = {"ridefront": ridefront.__version__, "python": platform.python_version()}
    return found | {name: version(name) for name in _LIBRARIES}


def digests(study: Study) -> dict[str, str]:
    """What a folder must agree on with a study that goes on in it."""
    return {"figures": figures_digest(study), "plan": plan_digest(study), "engine": engine_digest()}


def meaning(study: Study) -> dict[str, Any]:
    """What the digests are of, for people and for messages that say what has changed."""
    plain: dict[str, Any] = json.loads(json.dumps({"figures": figures_meaning(study), "plan": plan_meaning(study)}))
    return plain


def file_metadata(study: Study) -> dict[str, str]:
    """Metadata of every table of a run."""
    return {
        "study": study.title,
        "digests": json.dumps(digests(study)),
        "versions": json.dumps(versions()),
    }


def host() -> dict[str, Any]:
    """The machine, as far as it bears on bits and times; kernels are compiled for the processor that LLVM names."""
    import llvmlite.binding
    import numba

    processor = llvmlite.binding.get_host_cpu_name()
    return {
        "name": platform.node(),
        "system": platform.system(),
        "machine": platform.machine(),
        "libc": " ".join(platform.libc_ver()),
        "processor": processor,
        "compiled_for": vars(numba.config).get("CPU_NAME") or processor,
        "cores": os.cpu_count(),
    }


def now() -> str:
    """Local time with its offset from UTC, to the second."""
    return time.strftime("%Y-%m-%dT%H:%M:%S%z")


GROWN = frozenset({"generations", "refine", "simulated_generations"})
"""Sizes of the search of which a longer run could only be another one, where something comes after them."""


def growing(study: Study) -> str:
    """The key of the last stage: more of it, and a run goes on."""
    search = study.search
    if study.response == "auto":
        return "search.simulated_refine" if search.simulated_refine else "search.simulated_generations"
    return "search.refine" if search.refine else "search.generations"


def search_sizes(study: Study) -> dict[str, Any]:
    """How much is searched; sizes in the time domain are None where the study has none of its own for it."""
    search = study.search
    auto = study.response == "auto"
    return {
        "sample": search.sample,
        "population": search.population,
        "generations": search.generations,
        "refine": search.refine,
        "simulated_generations": search.simulated_generations if auto else None,
        "simulated_refine": search.simulated_refine if auto else None,
        "until": {
            "evaluations": search.evaluations,
            "seconds": search.seconds,
            "stalled": None if search.stalled is None else [search.stalled.share, search.stalled.generations],
        },
    }


def start_record(study: Study) -> dict[str, Any] | None:
    """What became of the designs of the front that the search starts with; None where there is none."""
    start = study.start
    if start is None:
        return None
    return {
        "path": start.path,
        "found": start.found,
        "taken": start.taken,
        "outside": start.outside,
        "alike": start.alike,
        "beyond": len(start.U) - start.taken,
    }


def step_record(step: StepChoice) -> dict[str, Any]:
    """The step of the time domain, and how far figures changed when it was halved; None for what has no figures."""

    def plain(change: float) -> float | None:
        return change if math.isfinite(change) else None

    return {
        "step": step.step,
        "fastest_rad_per_s": step.fastest,
        "designs": step.designs,
        "conditions": {
            name: {"rms_change": plain(rms), "peak_change": plain(peak)}
            for name, rms, peak in zip(step.conditions, step.rms, step.peak, strict=True)
        },
        "held": step.held,
    }


def recorded_step(record: Record) -> StepChoice | None:
    """The step of the time domain as `step_record` wrote it; None where nothing was driven, or no run has ended."""
    step = record["step"]
    if step is None:
        return None

    def changes(kind: str) -> tuple[float, ...]:
        found = (condition[kind] for condition in step["conditions"].values())
        return tuple(math.inf if change is None else float(change) for change in found)

    return StepChoice(
        step["step"],
        step["fastest_rad_per_s"],
        step["designs"],
        tuple(step["conditions"]),
        changes("rms_change"),
        changes("peak_change"),
        step["held"],
    )


def roads_record(study: Study, response: Domain) -> dict[str, dict[str, int | None]]:
    """How many realisations of each road are behind the front's figures, and behind the time domain's side of their
    differences from the frequency domain; None where a road is not driven for it.
    """
    found: dict[str, dict[str, int | None]] = {}
    for road in (study.roads[k] for k in sorted({condition.road for condition in study.conditions})):
        if has_spectrum(road):
            few = min(COMPARED, road.realisations) if response == "frequency-domain" else road.realisations
            found[road.name] = {"front": None if response == "frequency-domain" else few, "difference": few}
        else:
            found[road.name] = {"front": road.realisations, "difference": None}
    return found


def new_record(study: Study, workers: int, earlier: Record | None) -> Record:
    """The record of a run that starts or goes on.

    Args:
        study: as read.
        workers: how many.
        earlier: record of the run that this one goes on with, or None.
    """
    started = now()
    return {
        "state": "running",
        "stopped": None,
        "title": study.title,
        "study": study.path,
        "called": study.stem,
        "seed": study.seed,
        "response": study.response,
        "search": search_sizes(study),
        "start": start_record(study),
        "digests": digests(study),
        "meaning": meaning(study),
        "front_response": None,
        "front_spacing": None,
        "parts": None,
        "realisations": None,
        "step": None,
        "counts": None,
        "faults": earlier.get("faults", {}) if earlier else {},
        "hypervolume": None,
        "hypervolume_box": None,
        "timings": {
            "first_started": earlier["timings"]["first_started"] if earlier else started,
            "started": started,
            "ended": None,
            "busy_seconds": None,
        },
        "workers": workers,
        "versions": versions(),
        "host": host(),
    }


def read_record(path: Path) -> Record:
    """Reads run.json.

    Raises:
        ResultError: if it is damaged or no run wrote it.
    """
    foreign = ResultError(f"{path}: damaged, or not written by a run of this program", "Choose another --output.")
    with file_errors(path, "read"):
        data = path.read_bytes()
    try:
        record = json.loads(data)
    except ValueError as error:
        raise foreign from error
    if not isinstance(record, dict) or not _complete(record):
        raise foreign
    return record


def differences(record: Record, study: Study) -> list[str]:
    """What in a study does not agree with the run of a record, in words; empty if it may go on."""
    before, asked = record["digests"], digests(study)
    if all(before.get(key) == digest for key, digest in asked.items()):
        return []
    unlike = [] if before.get("engine") == asked["engine"] else [_ENGINE]
    for part, now_means in meaning(study).items():
        unlike += [key for key in _unlike(record["meaning"].get(part, {}), now_means) if key not in unlike]
    return unlike or [_UNNAMED]


def _unlike(before: dict[str, Any], after: dict[str, Any]) -> list[str]:
    """Keys whose values differ; of tables within, the path of the key."""
    found: list[str] = []
    for key in sorted(before.keys() | after.keys()):
        old, new = before.get(key), after.get(key)
        if isinstance(old, dict) and isinstance(new, dict):
            found += [f"{key}: {inner}" for inner in _unlike(old, new)]
        elif old != new:
            found.append(key)
    return found


def _complete(record: Record) -> bool:
    shape = {"state": str, "digests": dict, "meaning": dict, "search": dict, "timings": dict, "versions": dict}
    return all(isinstance(record.get(key), kind) for key, kind in shape.items()) and isinstance(
        record["timings"].get("first_started"), str
    )
