"""How the pages speak: titles, sentences, charts, evidence, cautions and downloads.

Sentences may quote the record, so they are plain text throughout.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import Any, Literal

import altair as alt
import streamlit as st

from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.output import files
from fleetlens.output.charts import describe
from fleetlens.output.flat import heading, text_of
from fleetlens.output.words import harmless, say

Height = int | Literal["content"]
DOWNLOADS = (
    ("CSV", ".csv", "text/csv"),
    ("Parquet", ".parquet", "application/vnd.apache.parquet"),
    ("XLSX", ".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
)


def head(title: str, question: str) -> None:
    """The title of a page and the question it answers: our own words."""
    st.title(title, anchor=False)
    st.markdown(question)


def filtered(filters: Filters) -> None:
    """Say which filters hold, for a narrow screen hides where they are set."""
    named = filters.named()
    if named:
        told = "; ".join(f"{name} {' or '.join(harmless(each) for each in values)}" for name, values in named.items())
        st.text(f"Only {told}.")


def section(title: str) -> None:
    """A heading: our own words."""
    st.subheader(title, anchor=False)


def sentences(lines: Iterable[str]) -> None:
    """Sentences one under the other."""
    told = [f"• {harmless(line)}" for line in lines]
    if told:
        st.text("\n".join(told))


def nothing(sentence: str) -> None:
    """There is nothing to show, and why: our own words."""
    st.info(sentence, icon=":material/search_off:")


def problem(error: FleetlensError | str, title: str = "This can't be shown as asked.") -> None:
    """What is wrong, where and what to do. Its text quotes what was given, so the box around it holds plain text."""
    with st.container(border=True):
        st.error(title, icon=":material/error:")
        st.text(str(error))


def in_vain(sentence: str) -> None:
    """What the address asks for and can't get; the rest is shown."""
    with st.container(border=True):
        st.warning("Not all that the address asks for is here.", icon=":material/link_off:")
        st.text(sentence)


def chart(
    draw: Callable[[Finding, Sequence[str]], alt.LayerChart],
    finding: Finding,
    by: Sequence[str] = (),
    height: Height = 520,
) -> None:
    """A chart, and what it shows in a sentence. A finding that can't be drawn leaves its table standing."""
    if finding.rows.is_empty():
        return
    try:
        drawn, told = draw(finding, by), describe(finding, by)
    except FleetlensError as error:
        problem(error)
        return
    st.altair_chart(drawn, height=height, alt=told)
    st.text(told)


def evidence(finding: Finding) -> None:
    """How the figures came about: method, period, what was counted, left out and assumed."""
    section("How this was counted")
    sentences([finding.method])
    for label, lines in (
        ("Period", [str(finding.period)]),
        ("Counted", [str(count) for count in finding.counted]),
        ("Left out", [str(count) for count in finding.excluded]),
        ("Assumed", list(finding.assumed)),
        ("Snapshot", [finding.snapshot]),
    ):
        if lines:
            with st.container(gap="xxsmall"):
                st.markdown(f"**{label}**")
                sentences(lines)


def basis(finding: Finding) -> None:
    """How a second answer on a page came about, in short: its method, and what was counted and left out."""
    sentences([finding.method, *(str(count) for count in (*finding.counted, *finding.excluded))])


def notes(title: str, finding: Finding) -> None:
    """The sentences about single rows, under a heading."""
    if finding.notes:
        section(title)
        sentences(finding.notes)


def cautions(finding: Finding) -> None:
    """The cautions that stand beside advice, all of them in full."""
    with st.container(border=True):
        st.markdown("**:material/warning: Before anyone starts work**")
        sentences(finding.cautions)


def downloads(finding: Finding, key: str = "finding") -> None:
    """The finding as files, made when they are asked for; in full, also where the table shows a part."""
    if finding.rows.is_empty():
        return
    name = "-".join(harmless(finding.question).lower().split())
    with st.container(horizontal=True):
        for label, ending, mime in DOWNLOADS:
            st.download_button(
                f"Download {label}",
                data=partial(files.content, finding, ending),
                file_name=f"{name}-{finding.snapshot}{ending}",
                mime=mime,
                key=f"{key}{ending}",
                on_click="ignore",
                icon=":material/download:",
            )


def in_full(row: Mapping[str, Any] | None, what: str) -> None:
    """All of one row, for a table cuts long text."""
    if row is None:
        st.text(f"Choose {what} in the table to read it in full.")
        return
    told = ((heading(name), say(value, text_of(name).unit)) for name, value in row.items())
    with st.container(border=True):
        st.text("\n".join(f"{label}: {value}" for label, value in told))
