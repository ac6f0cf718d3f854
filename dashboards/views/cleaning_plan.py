"""Which vehicles come in which week, for what, and why; changed in the table, and planned again."""

from functools import partial

import polars as pl
import streamlit as st

from fleetlens.advice.planning.plan import PLAN_KEYS, cleaning_plan, day_after
from fleetlens.advice.planning.wishes import EXCLUDE, PIN
from fleetlens.findings.evidence import period
from fleetlens.output import plan_chart
from fleetlens.output.flat import heading
from fleetlens.output.plan_files import PLAN_FORMATS, plan_content
from fleetlens.output.words import interval
from fleetlens.store import preferences
from fleetlens_dashboard import choices, plan_wishes, show, tables
from fleetlens_dashboard.record import answer, place

SHOWN = (
    *("week_from", "vehicle_id", "component", "position", "action", "hours", "due_on"),
    *("chance_before_service", "saving", "saving_low", "saving_high", "why"),
)

SAVINGS = ("saving", "saving_low", "saving_high")

show.head("Cleaning plan", "Which vehicles do I bring in, when, to clean what, and does it fit my hours?")
wanted = preferences.read(place())
begin = day_after(answer(period))
if begin is None:
    show.nothing("No job in this store has a date yet, so there is nothing to plan by.")
    st.stop()
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component_or_all()
    by = choices.split_by("by", PLAN_KEYS, default=("model",))
with st.container(horizontal=True, vertical_alignment="bottom"):
    first = st.date_input("First day", value=begin, key="first", format="YYYY-MM-DD")
    weeks = st.number_input("Weeks", 1, 52, wanted.plan.weeks, key="weeks", bind="query-params")
filters = choices.filters()
show.filtered(filters)

wishes = plan_wishes.held()
plan = answer(
    cleaning_plan,
    first=first,
    weeks=int(weeks),
    component=component,
    by=tuple(by),
    filters=filters,
    wishes=wishes,
    preferences=wanted,
)
tasks = plan.tasks
if tasks.rows.is_empty():
    show.nothing("No task saves enough in these weeks. The notes below and the cleaning intervals say why.")
else:
    money = f" {wanted.money.currency}" if wanted.money.currency else ""
    st.text(
        f"{tasks.rows.height:,} tasks on {tasks.rows['vehicle_id'].n_unique():,} vehicles, expected to save "
        f"{interval(plan.saved, plan.saved_low, plan.saved_high)}{money} against leaving them to the service after "
        "the plan."
    )
    show.chart(plan_chart.weeks, plan.weeks, height=260)
    show.section("Tasks")
    st.text("Change a week, pin a task to its week, or leave it out; then plan again.")
    with st.form("edit", border=False):
        mondays = [str(monday) for monday in plan.weeks.rows["week_from"]]
        shown = tasks.rows.select(
            pl.col("week_from").cast(pl.String),
            (pl.col("wish") == PIN).fill_null(False).alias("pin"),
            pl.lit(False).alias("leave_out"),
            *SHOWN[1:],
        )
        st.data_editor(
            shown.to_pandas(),
            hide_index=True,
            key="edits",
            disabled=[name for name in shown.columns if name not in ("week_from", "pin", "leave_out")],
            column_config={
                "week_from": st.column_config.SelectboxColumn("Week from", options=mondays, required=True),
                "pin": st.column_config.CheckboxColumn("Pin", help="Keep it in this week."),
                "leave_out": st.column_config.CheckboxColumn("Leave out", help="Not in this plan."),
                **{name: tables.column_look(name, shown[name].dtype, pinned=False) for name in SHOWN[1:]},
                "chance_before_service": st.column_config.NumberColumn("Chance before service", format="percent"),
                **{name: st.column_config.NumberColumn(heading(name), format="%.0f") for name in SAVINGS},
            },
        )
        if st.form_submit_button("Plan again", icon=":material/refresh:"):
            plan_wishes.changed(tasks.rows, st.session_state["edits"]["edited_rows"])
            st.rerun()
if wishes:
    show.section("Your changes")
    show.sentences(
        f"{wish}: {'left out' if wish.kind == EXCLUDE else f'pinned to the week from {wish.monday}'}" for wish in wishes
    )
    if st.button("Take all changes back", icon=":material/undo:"):
        plan_wishes.forget()
        st.rerun()

with st.container(horizontal=True):
    for ending in PLAN_FORMATS:
        st.download_button(
            f"Download {ending.removeprefix('.').upper()}",
            data=partial(plan_content, plan, ending),
            file_name=f"cleaning-plan-{tasks.snapshot}{ending}",
            key=f"plan{ending}",
            on_click="ignore",
            icon=":material/download:",
        )
show.cautions(tasks)
show.notes("Mind", tasks)
for title, finding, empty in (
    ("Weeks", plan.weeks, "No week."),
    ("Parts to order", plan.parts, "Nothing to order."),
    ("Without a week", plan.left, "All that saves enough has a week, and nothing is overdue without one."),
    ("Not dated", plan.apart, "Every part with a schedule can be dated."),
):
    show.section(title)
    tables.table(finding, title.lower(), open_in={"vehicle_id": "vehicle_history"}, empty=empty)
show.evidence(tasks)
