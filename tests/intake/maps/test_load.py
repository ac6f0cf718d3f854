"""Exports loaded through their maps: counts that balance, figures that agree with the tidy tables, maps remembered."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb
import polars as pl
import pytest
from intake.maps.conftest import Export, Suggest, answered
from intake.small import counts

from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load
from fleetlens.intake.maps import memory, written
from fleetlens.intake.report import LoadReport
from fleetlens.store import snapshots

WIDE = """
    Auftragsnr;Kennzeichen;Annahme;Fertigstellung;Stand;Einheit;Auftragsart;Fehlercodes;Pos;Bauteil;Massnahme;Lohn EUR
    1001;OV-A 12;14.03.2024;15.03.2024;120.500;km;Reparatur;P0401, p0404;1;EGR valve;ersetzt;1.120,50
    1001;OV-A 12;14.03.2024;15.03.2024;120.500;km;Reparatur;;2;vehicle;Probefahrt;20,00
    1002;OV-A 13;02.04.2024;;50.000;mi;Wartung;;1;oil filter;ersetzt;50,00
    1003;;03.04.2024;;50.100;mi;Wartung;;1;oil filter;ersetzt;50,00
"""


def ask(store: Path, query: str) -> list[tuple[object, ...]]:
    name = snapshots.current(store)
    assert name is not None
    with duckdb.connect(str(snapshots.path_of(store, name)), read_only=True) as reader:
        return reader.sql(query).fetchall()


def by_table(report: LoadReport) -> dict[str, tuple[int, int, int, int]]:
    return {file.table: (file.rows_in, file.accepted, file.repeated, file.refused) for file in report.files}


def test_a_wide_semicolon_file_becomes_its_tables(export: Export, suggested: Suggest, store: Path) -> None:
    path = export(WIDE, encoding="cp1252")
    report = load([path], store, maps=[suggested(path).column_map])
    assert by_table(report) == {
        "vehicles": (4, 2, 1, 1),
        "jobs": (4, 2, 1, 1),
        "job_codes": (2, 2, 0, 0),
        "job_actions": (4, 3, 0, 1),
    }
    assert ask(
        store, "select job_id, opened_at::date::varchar, round(odometer_km), reason::varchar from jobs order by 1"
    ) == [
        ("1001", "2024-03-14", 120_500.0, "defect"),
        ("1002", "2024-04-02", 80_467.0, "scheduled"),  # 50,000 international miles of 1.609344 km
    ]
    done = "select line, component, action::varchar, labour_cost from job_actions join components using (component_key)"
    assert ask(store, f"{done} order by job_key, line") == [
        (1, "egr_valve", "replace", 1120.5),
        (2, "vehicle", "road_test", 20.0),
        (1, "oil_filter", "replace", 50.0),
    ]


def test_repairs_are_counted_and_told(export: Export, suggested: Suggest, store: Path) -> None:
    path = export(WIDE)
    notes = load([path], store, maps=[suggested(path).column_map]).notes
    assert "export.csv: 4 values of jobs.opened_at: a date in another shape was written as YYYY-MM-DD" in notes
    assert "export.csv: 4 values of jobs.odometer: the marks between thousands were left out" in notes


def test_the_map_is_remembered_for_the_next_month(export: Export, suggested: Suggest, store: Path) -> None:
    first = export(WIDE)
    load([first], store, maps=[suggested(first).column_map])
    lines = [line.strip() for line in WIDE.strip().splitlines()]
    moved = [";".join(reversed(line.split(";"))) for line in lines]  # the columns may change places
    later = export("\n".join([moved[0], moved[3].replace("1002", "1009")]), "april.csv")
    report = load([later], store)
    assert by_table(report)["jobs"] == (1, 1, 0, 0)
    assert by_table(report)["vehicles"] == (1, 0, 1, 0)


def test_the_same_file_again_changes_nothing(export: Export, suggested: Suggest, store: Path) -> None:
    path = export(WIDE)
    load([path], store, maps=[suggested(path).column_map])
    again = load([path], store)
    assert (again.accepted, again.published) == (0, False)
    assert again.rows_in == again.repeated + again.refused


def test_a_remembered_map_that_does_not_fit_names_the_column(export: Export, suggested: Suggest, store: Path) -> None:
    first = export(WIDE)
    load([first], store, maps=[suggested(first).column_map])
    changed = export(WIDE.replace("Fehlercodes;", "Fehlercode;"), "april.csv")
    with pytest.raises(FleetlensError) as error:
        load([changed], store)
    told = str(error.value)
    assert "reads job_codes.code from the column 'Fehlercodes', which april.csv doesn't have" in told
    assert "the nearest there is 'Fehlercode'" in told


def test_a_given_map_that_fits_no_file_names_the_column(export: Export, suggested: Suggest, store: Path) -> None:
    made = suggested(export(WIDE)).column_map
    other = export("Werkstattnr;Plate\n1;A\n", "other.csv")
    with pytest.raises(
        FleetlensError, match=r"reads vehicles.vehicle_id from the column 'Kennzeichen', which other.csv"
    ):
        load([other], store, maps=[made])
    twice = [export(WIDE), export("vehicle_id\nV1\n", "vehicles.csv")]
    with pytest.raises(FleetlensError, match=r"used for nothing: another one given before it takes export.csv"):
        load(twice, store, maps=[made, replace(made, name="second")])


def test_files_with_the_same_columns_may_have_maps_of_their_own(export: Export, store: Path) -> None:
    """North writes the day first, south the month; nothing in either file decides."""
    text = "Job,Reg,Day\n{0}1,{0}V,03/04/2021\n"
    files = [export(text.format(name), f"{name}.csv") for name in ("north", "south")]
    made = """
        name = "{0}"
        kind = "wide"
        file = "{0}*.csv"
        vehicles = {{ vehicle_id = "Reg" }}
        jobs = {{ job_id = "Job", vehicle_id = "Reg", opened_at = {{ column = "Day", date_order = "{1}_first" }} }}
    """
    maps = [written.parse(made.format(name, first), name) for name, first in (("south", "month"), ("north", "day"))]
    load(files, store, maps=maps)
    opened = "select job_id, opened_at::date::varchar from jobs order by 1"
    wanted = [("north1", "2021-04-03"), ("south1", "2021-03-04")]
    assert ask(store, opened) == wanted
    # Both are remembered, each for the files of its name.
    load([export(text.format("north").replace("h1", "h2"), "north-april.csv")], store)
    assert ask(store, opened) == [wanted[0], ("north2", "2021-04-03"), wanted[1]]
    with pytest.raises(FleetlensError, match=r"several maps are remembered .*'north' for north\*.csv"):
        load([export(text.format("east"), "east.csv")], store)
    with pytest.raises(FleetlensError, match=r"for a file 'south\*.csv', and none of that name"):
        load([files[0]], store, maps=maps)
    # One of the two may be given anew; the other stays.
    load([export(text.format("north"), "northern.csv")], store, maps=[replace(maps[1], name="north again")])
    assert {one.name for one in next(iter(memory.remembered(store).values()))} == {"north again", "south"}


def test_a_file_without_a_map_is_told_how_to_get_one(export: Export, store: Path) -> None:
    with pytest.raises(FleetlensError, match=r"fleetlens map .*export.csv --out map.toml"):
        load([export(WIDE)], store)


def test_job_columns_only_on_the_first_line(export: Export, suggested: Suggest, store: Path) -> None:
    path = export(
        """
        Job No,Fleet no,Date in,Odometer km,Component,Action,Labour cost
        1,OV1,2021-04-13,1000,EGR valve,cleaned,12.50
        ,,,,DPF,regenerated,
        ",",",",road test,
        2,OV1,2021-05-13,,EGR cooler,replaced,40.00
        """.replace('",",",",', '"""",,,,vehicle,')
    )
    made = suggested(path).column_map
    assert made.first_row_only
    report = load([path], store, maps=[made])
    assert by_table(report)["jobs"] == (4, 2, 2, 0)
    assert ask(store, "select job_id, count(*) from job_actions join jobs using (job_key) group by 1 order by 1") == [
        ("1", 3),
        ("2", 1),
    ]
    # The second job has no odometer of its own and takes none over from the first.
    assert ask(store, "select job_id, odometer_km from jobs order by 1") == [("1", 1000.0), ("2", None)]


def test_a_column_of_miles(export: Export, suggested: Suggest, store: Path) -> None:
    path = export("Job No,Fleet no,Date in,Miles\n1,OV1,2021-04-13,1000\n2,OV1,2021-05-13,1500 km\n")
    load([path], store, maps=[suggested(path).column_map])
    assert ask(store, "select odometer_km from jobs order by job_id") == [(1609.344,), (1500.0,)]


def test_text_alone_gives_codes_and_actions_marked_as_such(export: Export, suggested: Suggest, store: Path) -> None:
    path = export(
        """
        Job No,Fleet no,Date in,Work done
        1,OV1,2021-04-13,P0401 stored. egr valve replaced and dpf cleaned
        2,OV1,2021-05-13,customer to call back about the mirror
        """
    )
    report = load([path], store, maps=[suggested(path).column_map])
    assert by_table(report)["job_codes"] == (1, 1, 0, 0)
    assert by_table(report)["job_actions"] == (2, 2, 0, 0)
    done = "select line, component, action::varchar, from_text from job_actions join components using (component_key)"
    assert ask(store, f"{done} order by job_key, line") == [
        (1, "egr_valve", "replace", True),
        (2, "dpf", "clean", True),
    ]
    assert any(
        "texts that tell nothing done, on rows that hold nothing else, so no rows of job_actions: 1" in note
        for note in report.notes
    )


def test_a_column_names_the_component_and_a_text_says_what_was_done(
    export: Export, suggested: Suggest, store: Path
) -> None:
    """The file's first column is called as our own of every batch is."""
    path = export(
        """
        row,part,Reg,Date,Work done
        1,turbo,OV1,2024-05-13,cleaned it and refitted
        2,dpf,OV1,2024-06-13,customer declined
        3,EGR valve,OV1,2024-07-13,turbo replaced
        """
    )
    report = load([path], store, maps=[suggested(path).column_map])
    told = "select component, action::varchar from job_actions join components using (component_key) order by 1"
    assert ("turbocharger", "clean") in ask(store, told)
    assert by_table(report)["jobs"] == (3, 3, 0, 0)


LINED = """
    name = "lined"
    kind = "wide"
    [vehicles]
    vehicle_id = "Reg"
    [jobs]
    job_id = "Job"
    vehicle_id = "Reg"
    opened_at = "Date"
    [job_actions]
    line = "Line"
    labour_cost = "Labour"
    note = { column = "Work", text = true }
"""


def test_a_numbered_line_that_tells_several_actions_keeps_them_all(export: Export, store: Path) -> None:
    text = """
        Job,Line,Reg,Date,Work,Labour
        1,1,OV1,2021-04-13,egr valve replaced and relearnt,50
        1,2,OV1,2021-04-13,turbo cleaned and dpf replaced,60
    """
    read = written.parse(LINED, "lined.toml")
    report = load([export(text)], store, maps=[read])
    assert by_table(report)["job_actions"] == (4, 4, 0, 0)
    told = "select line, component, action::varchar, labour_cost from job_actions join components using (component_key)"
    wanted = [
        (1, "egr_valve", "replace", 50.0),
        (2, "turbocharger", "clean", 60.0),
        (100_001, "egr_valve", "relearn", None),
        (100_002, "dpf", "replace", None),
    ]
    assert ask(store, f"{told} order by line") == wanted
    report = load([export(text.replace("relearnt", "cleaned"), "again.csv")], store)
    assert by_table(report)["job_actions"] == (4, 2, 2, 0)  # both actions of line 1
    assert ask(store, f"{told} where line = 100001") == [(100_001, "egr_valve", "clean", None)]


def test_money_without_a_word_of_what_was_done_is_kept(export: Export, suggested: Suggest, store: Path) -> None:
    path = export(
        """
        Job No,Reg,Date in,Text,Labour cost
        1,OV1,2021-04-13,egr valve cleaned out fully,10
        1,OV1,2021-04-13,workshop sundries and the rest,12
        1,OV1,2021-04-13,spoke to the driver on phone,
        2,OV2,2021-04-14,egr,30
        """
    )
    report = load([path], store, maps=[suggested(path).column_map])
    assert by_table(report)["job_actions"] == (3, 3, 0, 0)
    assert "export.csv: rows with hours or money that don't say what was done, kept as unstated: 2" in report.notes
    told = "select component, action::varchar, labour_cost, from_text from job_actions join components"
    assert ask(store, f"{told} using (component_key) order by labour_cost") == [
        ("egr_valve", "clean", 10.0, True),
        ("vehicle", "unstated", 12.0, False),
        ("vehicle", "unstated", 30.0, False),
    ]


def test_money_of_jobs_that_say_nothing_else_is_kept(export: Export, suggested: Suggest, store: Path) -> None:
    path = export("Job No,Reg,Date in,Labour cost,Parts cost\n1,OV1,2021-04-13,50,10\n2,OV2,2021-04-14,20,\n")
    found = suggested(path)
    assert any("stand for work unstated" in line for line in found.conclusions)
    load([path], store, maps=[found.column_map])
    assert ask(store, "select action::varchar, labour_cost, parts_cost from job_actions order by 2") == [
        ("unstated", 20.0, None),
        ("unstated", 50.0, 10.0),
    ]


UNREADABLE = {
    "a point where the comma is the decimal mark": ("parts_cost", "12.5", "in this column the comma is the decimal"),
    "digits that a spreadsheet cut off": ("job_id", "1.2E+11", "cut off digits"),
    "a number of a part that a spreadsheet cut off": ("part_number", "1,2E+05", "cut off digits"),
    "a formula that failed": ("note", "#REF!", "a formula that failed"),
    "an odometer with an exponent": ("odometer", "1e5", "not an odometer reading"),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_cannot_be_read_is_refused_though_it_would_pass_as_something_else(
    name: str, export: Export, store: Path
) -> None:
    ours, cell, why = UNREADABLE[name]
    row = {"job_id": "J2", "odometer": "2000", "part_number": "77-1", "parts_cost": "12,5", "note": "cleaned"}
    made = """
        name = "x"
        kind = "wide"
        vehicles = { vehicle_id = "Reg" }
        [jobs]
        job_id = "job_id"
        vehicle_id = "Reg"
        opened_at = "Date"
        odometer = { column = "odometer", unit = "km" }
        [job_actions]
        component = "Part"
        action = "Did"
        part_number = "part_number"
        parts_cost = { column = "parts_cost", decimal = "," }
        note = "note"
    """
    header = ";".join(["Reg", "Date", "Part", "Did", *row])
    good, bad = row | {"job_id": "J1"}, row | {ours: cell}
    lines = [";".join(["V1", "2024-05-01", "turbo", "cleaned", *one.values()]) for one in (good, bad)]
    path = export("\n".join([header, *lines]))
    report = load([path], store, maps=[written.parse(made, "made.toml")])
    told = report.refusals.filter(rule="unreadable")
    assert set(told.select("row", "column", "value").rows()) == {(3, ours, cell)}
    assert all(why in reason for reason in told["reason"])
    assert ask(store, "select job_id from jobs join job_actions using (job_key)") == [("J1",)]


def test_dates_are_asked_not_guessed(export: Export, suggested: Suggest, store: Path) -> None:
    path = export("Job No,Fleet no,Date in,Km\n1,OV1,03/04/2021,1000\n2,OV1,05/06/2021,1500\n")
    found = suggested(path)
    with pytest.raises(FleetlensError, match=r"jobs.opened_at: column 'Date in': is the day or the month first"):
        load([path], store, maps=[found.column_map])
    left_out = written.parse(
        written.write(found.column_map).replace('{column = "Date in", date_order = "?"}', '"Date in"'), "map"
    )
    with pytest.raises(FleetlensError, match=r"jobs.opened_at.date_order: '03/04/2021' and '05/06/2021' can be read"):
        load([path], store, maps=[left_out])
    load([path], store, maps=[answered(found, date_order="month_first")])
    days = ask(store, "select opened_at::date from jobs order by job_id")
    assert days == [(date(2021, 3, 4),), (date(2021, 5, 6),)]


def test_a_wide_export_completes_what_the_vehicle_list_says(export: Export, suggested: Suggest, store: Path) -> None:
    vehicles = export(
        "vehicle_id,model,in_service_on\nOV-A 12,Skiff,2020-05-01\nOV-A 13,Wain,2021-05-01\n", "vehicles.csv"
    )
    wide = export(WIDE)
    report = load([wide, vehicles], store, maps=[suggested(wide).column_map])
    told = {f.path.name: (f.accepted, f.repeated, f.refused) for f in report.files if f.table == "vehicles"}
    assert told == {"vehicles.csv": (2, 0, 0), "export.csv": (0, 3, 1)}  # the refused row names no vehicle
    kept = ask(store, "select vehicle_id, model, registration, in_service_on::varchar from vehicles order by 1")
    assert kept == [("OV-A 12", "Skiff", "OV-A 12", "2020-05-01"), ("OV-A 13", "Wain", "OV-A 13", "2021-05-01")]


def test_a_later_wide_export_leaves_what_is_stored(export: Export, suggested: Suggest, store: Path) -> None:
    vehicles = export("vehicle_id,model,registration\nOV-A 12,Skiff,old\nOV-A 13,Wain,\n", "vehicles.csv")
    load([vehicles], store)
    wide = export(WIDE)
    report = load([wide], store, maps=[suggested(wide).column_map])
    told = next(file for file in report.files if file.table == "vehicles")
    assert (told.accepted, told.repeated, told.refused, told.replaced) == (2, 1, 1, 2)
    kept = ask(store, "select vehicle_id, model, registration from vehicles order by 1")
    assert kept == [("OV-A 12", "Skiff", "OV-A 12"), ("OV-A 13", "Wain", "OV-A 13")]


def test_the_figures_of_a_wide_export_are_those_of_its_tidy_tables(export: Export, store: Path, tmp_path: Path) -> None:
    vehicles = "vehicle_id,model,in_service_on\n" + "".join(f"V{n},Skiff,2020-01-0{n}\n" for n in range(1, 6))
    jobs = [(f"J{n}", f"V{1 + n % 5}", date(2021, 1 + n % 12, 3 + n), 10_000 + 1_500 * n, "defect") for n in range(20)]
    actions = [
        (job[0], line, part, done)
        for job in jobs
        for line, (part, done) in enumerate((("egr_valve", "replace"), ("vehicle", "road_test")), 1)
    ]
    tidy = tmp_path / "tidy"
    tidy.mkdir()
    (tidy / "vehicles.csv").write_text(vehicles)
    pl.DataFrame(jobs, schema=["job_id", "vehicle_id", "opened_at", "odometer", "reason"], orient="row").write_csv(
        tidy / "jobs.csv"
    )
    pl.DataFrame(actions, schema=["job_id", "line", "component", "action"], orient="row").write_csv(
        tidy / "job_actions.csv"
    )
    pl.DataFrame([(job[0], "P0401") for job in jobs], schema=["job_id", "code"], orient="row").write_csv(
        tidy / "job_codes.csv"
    )
    lines = [
        f"{job};{van};{day:%d.%m.%Y};{km:,};defect;{'P0401' if line == 1 else ''};{line};{part};{done}".replace(
            ",", "."
        )
        for job, van, day, km, _ in jobs
        for _, line, part, done in (one for one in actions if one[0] == job)
    ]
    wide = export("Job No;Fleet no;Date in;Odometer;Job type;Codes;Line;Component;Action\n" + "\n".join(lines))
    mapped = written.parse(
        """
        name = "wide"
        kind = "wide"
        [jobs]
        job_id = "Job No"
        vehicle_id = "Fleet no"
        opened_at = "Date in"
        odometer = "Odometer"
        reason = "Job type"
        [job_codes]
        code = { column = "Codes", split = true }
        [job_actions]
        line = "Line"
        component = "Component"
        action = "Action"
        """,
        "map",
    )
    load([tidy], store / "tidy")
    report = load([tidy / "vehicles.csv", wide], store / "wide", maps=[mapped])
    assert report.refused == 0
    for table in ("jobs", "job_codes", "job_actions", "readings", "lives", "repairs", "code_events"):
        assert ask(store / "wide", f"from {table} order by all") == ask(store / "tidy", f"from {table} order by all"), (
            table
        )


def test_the_counts_of_all_sources_add_up(export: Export, suggested: Suggest, store: Path) -> None:
    path = export(WIDE)
    report = load([path], store, maps=[suggested(path).column_map])
    rows_in, accepted, repeated, refused, _ = counts(report)
    assert rows_in == accepted + repeated + refused == 14
