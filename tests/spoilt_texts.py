"""Texts spoilt a line at a time, for tests of what reads them."""

from __future__ import annotations

from hypothesis import strategies as st

SCRAPS = st.sampled_from(
    [
        "0", "-1", "1e308", "1e-320", "nan", "true", "[]", "{}", "[[1]]", '""', '" "', '"22"', '"22 N/mm"', '"1 kg"',
        "'''a\nb'''", "1979-05-27", "07:32:00", "{ low = 1 }", "{ low = 1, high = 2 }", "{ choices = [] }",
        '{ times = "front.spring_rate", low = 1, high = 2 }', '{ low = "1 N/mm", high = "2 N/mm", step = "0.3 N/mm" }',
        '"front"', '"half-car"', '"comfort"', '["a", 1]', "99999999999999999999999999", "0x10", '"\\u0000"', '"²"',
        '{ low = nan, high = inf }', '{ low = {}, high = [] }',
    ]
)  # fmt: skip
Spoilt = tuple[str, int, str]
"""What is done to a line, which one, and what with."""


def mutations(count: int) -> st.SearchStrategy[list[Spoilt]]:
    """One to three things to be done to a text of so many lines."""
    line = st.integers(0, count - 1)
    one = st.one_of(
        st.tuples(st.just("drop"), line, st.just("")),
        st.tuples(st.just("double"), line, st.just("")),
        st.tuples(st.just("value"), line, SCRAPS),
        st.tuples(st.just("key"), line, st.sampled_from(["x", "mass", "name", '"a b"', "low"])),
        st.tuples(st.just("line"), line, st.text(max_size=12)),
    )
    return st.lists(one, min_size=1, max_size=3)


def mutate(lines: list[str], kind: str, k: int, scrap: str) -> None:
    """Spoil one line in place."""
    k = min(k, len(lines) - 1)
    head, equals, _ = lines[k].partition(" = ")
    if kind == "drop":
        lines.pop(k)
    elif kind == "double":
        lines.insert(k, lines[k])
    elif kind == "value" and equals:
        lines[k] = f"{head} = {scrap}"
    elif kind == "key" and equals:
        lines[k] = lines[k].replace(head, scrap, 1)
    elif kind == "line":
        lines[k] = scrap
