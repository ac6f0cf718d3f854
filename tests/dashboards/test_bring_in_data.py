"""The page that brings files in: no file, a tidy one, a messy one that asks, a wrong one; and the way back."""

import gc
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from dashboards.house import HOSTILE, Open, read_as_markup, texts
from streamlit.runtime.scriptrunner import StopException
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Multiselect

from fleetlens.intake.load import load
from fleetlens.intake.maps import written
from fleetlens.places import folder
from fleetlens.store.reader import current, open_store

PAGE = "bring_in_data"
TIDY = "vehicle_id,in_service_on\nV1,2023-01-01\nV2,2023-02-30\n"
# Neither the order of the dates nor the unit nor the two words for reasons can be told from it.
MESSY = (
    "Workshop list;;;;;\n"
    "Job no;Reg;Date in;Mileage;Type;Fault\n"
    "1001;AB12 CDE;03/04/2024;45.210;BD;P0401 valve sticking\n"
    "1002;AB12 CDE;05/06/2024;48.110;SV;oil service\n"
    "1003;XY34 ZZZ;07/05/2024;91.000;BD;replaced egr valve\n"
    "Total;;;;;3\n"
)
ANSWERS = {
    "Order of the dates: jobs.opened_at": "day_first",
    "Unit of the distances: jobs.odometer": "mi",
    "Word 1 of jobs.reason": "breakdown",
    "Word 2 of jobs.reason": "scheduled",
}


@pytest.fixture(name="opened")
def _opened(open_app: Open, tmp_path: Path) -> Callable[..., AppTest]:
    """The page on a store that isn't there yet, with these files (name: content) brought in."""

    def run(files: dict[str, str | bytes], store: Path = tmp_path / "store") -> AppTest:
        app = open_app(store, PAGE)
        for name, content in files.items():
            app.file_uploader[0].upload(name, content.encode() if isinstance(content, str) else content)
        return app.run()

    return run


def press(app: AppTest, label: str) -> AppTest:
    """The page after a button was pressed."""
    app = next(button for button in app.button if button.label.startswith(label)).click().run()
    assert not app.exception
    return app


def answered(app: AppTest) -> AppTest:
    """The page after its questions were answered."""
    for box in app.selectbox:
        if box.label in ANSWERS:
            assert box.value is None
            box.set_value(ANSWERS[box.label])
    return app.run()


def columns(app: AppTest) -> list[Multiselect]:
    """The selectors of what each column is."""
    return [box for box in app.multiselect if box.label.startswith("Column ")]


def disabled(app: AppTest) -> dict[str, bool]:
    return {button.label: button.disabled for button in app.button}


def test_without_a_file_the_page_says_what_it_takes(opened) -> None:
    app = opened({})
    assert not app.error
    assert "up to 200 MB" in app.file_uploader[0].label
    assert "fleetlens load FILE" in app.info[0].value
    assert not app.button  # nothing to load, and nothing to undo


def test_a_tidy_file_needs_no_map_and_makes_the_store(opened, tmp_path: Path) -> None:
    app = opened({"vehicles.csv": TIDY})
    assert "It is the table vehicles" in texts(app)
    assert not columns(app)
    app = press(app, "Check")
    assert "In all: 2 rows in, 1 accepted, 0 repeated, 1 refused, 0 replaced." in texts(app)
    assert not (tmp_path / "store").exists()
    app = press(app, "Load")
    assert app.success[0].value.startswith("Loaded: the store shows fleet-000001")
    assert "Snapshot: fleet-000001" in app.sidebar.text[0].value
    with open_store(tmp_path / "store") as snapshot:
        assert snapshot.frame("findings/loads")["path"].to_list() == ["vehicles.csv"]  # nor does the store keep it
    overview = app.switch_page("views/overview.py").run()
    assert overview.metric[0].value == "1"
    loads, files = (table.value for table in app.switch_page("views/data_check.py").run().dataframe[:2])
    assert loads[["rows_in", "refused", "share_refused"]].to_numpy().tolist() == [[2, 1, 0.5]]
    assert files["path"].tolist() == ["vehicles.csv"]  # without the folder that it stood in


def test_refused_rows_are_told_by_rule_and_given_back(opened) -> None:
    app = press(opened({"vehicles.csv": TIDY}), "Check")
    rules = app.dataframe[-1].value
    assert rules[["rule", "table_name", "column", "rows"]].to_numpy().tolist() == [
        ["date", "vehicles", "in_service_on", 1]
    ]
    assert rules["examples"][0].startswith("vehicles.csv row 3: '2023-02-30' ")
    labels = [button.label for button in app.get("download_button")]
    assert labels == ["Download CSV", "Download Parquet", "Download XLSX", "Download vehicles-refused.csv"]


def test_a_messy_file_asks_before_it_can_be_loaded(opened) -> None:
    app = opened({"jobs list.csv": MESSY})
    said = texts(app)
    assert (
        "Found: UTF-8, ';' between columns, header in row 2, 1 title row left out, 1 total row left out, 3 rows."
        in said
    )
    assert "'03/04/2024' and '05/06/2024' can be read as day-month or as month-day" in said
    assert "the name 'Reg' is known for it" in said
    assert "jobs list.csv: 3 to be answered" in said
    assert disabled(app) == {"Check": True, "Load": True}
    app = answered(app)
    assert disabled(app) == {"Check": False, "Load": False}
    jobs = app.dataframe[1].value
    assert jobs["opened_at"].tolist() == ["2024-04-03", "2024-06-05", "2024-05-07"]
    assert jobs["reason"].tolist() == ["breakdown", "scheduled", "breakdown"]


def test_a_load_from_the_page_is_that_of_the_call(opened, tmp_path: Path) -> None:
    app = press(answered(opened({"jobs list.csv": MESSY})), "Load")
    assert "Loaded" in app.success[0].value
    with open_store(tmp_path / "store") as snapshot:
        (toml,) = snapshot.frame("intake/source_maps")["toml"]
        paged = snapshot.frame("findings/vehicle_jobs", vehicle_id="AB12 CDE")
    (tmp_path / "jobs list.csv").write_text(MESSY)
    load([tmp_path / "jobs list.csv"], tmp_path / "called", maps=[written.parse(toml, "the map")])
    with open_store(tmp_path / "called") as snapshot:
        assert snapshot.frame("findings/vehicle_jobs", vehicle_id="AB12 CDE").equals(paged)
    assert paged["odometer_km"].to_list() == [pytest.approx(45_210 * 1.609344), pytest.approx(48_110 * 1.609344)]


def test_a_remembered_map_is_used_and_said(opened, tmp_path: Path) -> None:
    press(answered(opened({"march.csv": MESSY})), "Load")
    app = opened({"april.csv": MESSY.replace("100", "200").replace("/2024", "/2025")})
    assert "It is read through the map that the store remembers for its columns: march." in texts(app)
    assert not columns(app)
    assert disabled(app)["Load"] is False
    app = press(app, "Load")
    assert "jobs" in app.dataframe[-1].value["table_name"].tolist()
    assert current(tmp_path / "store") == "fleet-000002"


def test_a_remembered_map_can_be_changed(opened) -> None:
    press(answered(opened({"march.csv": MESSY})), "Load")
    app = opened({"april.csv": MESSY.replace("100", "200")})
    app = app.toggle[0].set_value(True).run()
    units = next(box for box in app.selectbox if box.label == "Unit of the distances: jobs.odometer")
    assert units.value == "mi"
    app = units.set_value("km").run()
    jobs = next(frame.value for frame in app.dataframe if "odometer" in frame.value)
    assert jobs["odometer_unit"].tolist() == ["km"] * 3


def test_a_map_that_comes_with_the_file_is_used(opened, tmp_path: Path) -> None:
    app = press(answered(opened({"march.csv": MESSY})), "Load")
    with open_store(tmp_path / "store") as snapshot:
        (toml,) = snapshot.frame("intake/source_maps")["toml"]
    app = opened({"march.csv": MESSY, "mine.toml": toml}, tmp_path / "other")
    assert "It is read through a map that came with the files: march." in texts(app)
    assert "Loaded" in press(app, "Load").success[0].value
    app = opened({"vehicles.csv": TIDY, "mine.toml": toml}, tmp_path / "third")
    assert "mine.toml fits none of these files: take it out" in texts(app)
    assert disabled(app)["Load"]


def test_a_column_can_be_made_another_one_of_ours(opened) -> None:
    app = answered(opened({"jobs list.csv": MESSY}))
    app = columns(app)[5].set_value(["job_actions.note"]).run()
    assert not app.error, texts(app)
    tables = [line for line in texts(app).splitlines() if line.startswith("Table ")]
    assert "Table job_actions" in tables
    app = columns(app)[2].set_value([]).run()  # the date: nothing can be loaded without one
    assert app.error[0].value == "This sheet can't be read so."
    assert "jobs.opened_at" in texts(app)
    assert disabled(app) == {"Check": True, "Load": True}


def labelled(widgets, label: str):
    """The one widget with this label."""
    (found,) = (widget for widget in widgets if widget.label == label)
    return found


def test_more_settings_of_a_map(opened, tmp_path: Path) -> None:
    app = answered(opened({"jobs list.csv": MESSY}))
    app = labelled(app.multiselect, "One value for the whole file").set_value(["jobs.workshop"]).run()
    labelled(app.text_input, "Value of jobs.workshop").set_value("Harlbridge Lane")
    zone = labelled(app.selectbox, "Times with an offset are turned into the time of: jobs.opened_at")
    app = zone.set_value("Europe/Berlin").run()
    assert not app.exception
    assert app.dataframe[1].value["workshop"].unique().tolist() == ["Harlbridge Lane"]
    app = press(app, "Load")
    with open_store(tmp_path / "store") as snapshot:
        (toml,) = snapshot.frame("intake/source_maps")["toml"]
    made = written.parse(toml, "map")
    assert made.tables["jobs"]["workshop"].constant == "Harlbridge Lane"
    assert made.tables["jobs"]["opened_at"].zone == "Europe/Berlin"


def test_files_that_are_complete_for_a_period_remove_what_is_gone(opened, tmp_path: Path) -> None:
    jobs = "job_id,vehicle_id,opened_at\nJ1,V1,2024-05-01\nJ2,V1,2024-05-02\n"
    vehicles = "vehicle_id,in_service_on\nV1,2023-01-01\n"
    for content in (jobs, jobs.replace("J2,V1,2024-05-02\n", "")):
        app = opened({"vehicles.csv": vehicles, "jobs.csv": content})
        app = labelled(app.text_input, "Source of the files").set_value("Harlbridge Lane").run()
        app = (
            labelled(app.toggle, "They hold every job of this source that was opened in a period").set_value(True).run()
        )
        assert "until then the files count as not complete" in texts(app)
        for label, day in (("First day", date(2024, 5, 1)), ("Last day", date(2024, 5, 31))):
            labelled(app.date_input, label).set_value(day)
        app = press(app.run(), "Load")
    assert "1 job is no longer in Harlbridge Lane" in texts(app)
    with open_store(tmp_path / "store") as snapshot:
        assert snapshot.frame("findings/vehicle_jobs", vehicle_id="V1")["job_id"].to_list() == ["J1"]
    labelled(app.date_input, "Last day").set_value(date(2024, 4, 1))
    app = app.run()
    assert "write the earlier day first" in texts(app)
    assert "Load" not in {button.label for button in app.button}


def test_a_file_with_the_columns_of_another_may_have_a_map_of_its_own(opened, tmp_path: Path) -> None:
    text = "Job,Reg,Day\n{0}1,{0}V,03/04/2021\n"
    app = opened({f"{name}.csv": text.format(name) for name in ("north", "south")})
    assert "is read through the same map" in texts(app)
    app = labelled(app.toggle, "Give it a map of its own").set_value(True).run()
    asked = [box for box in app.selectbox if box.label == "Order of the dates: jobs.opened_at"]
    for box, first in zip(asked, ("day_first", "month_first"), strict=True):
        box.set_value(first)
    app = press(app.run(), "Load")
    with open_store(tmp_path / "store") as snapshot:
        opened_on = [
            snapshot.frame("findings/vehicle_jobs", vehicle_id=f"{name}V")["opened_on"].item()
            for name in ("north", "south")
        ]
    assert opened_on == [date(2021, 4, 3), date(2021, 3, 4)]


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("book.xlsx", b"PK\x03\x04 cut short", "cut off or damaged"),
        ("empty.csv", b"", "this file is empty"),
        ("odd.csv", b"a,b\n1,2\n", "none of the columns was recognised"),
        ("map.toml", b"name = ", "this map is no TOML"),
    ],
)
def test_a_wrong_file_is_told_and_nothing_can_be_loaded(opened, name: str, content: bytes, why: str) -> None:
    app = opened({name: content, "vehicles.csv": TIDY})
    assert not app.exception
    assert why in texts(app)
    assert "fleetlens-upload" not in texts(app)
    assert disabled(app) == {"Check": True, "Load": True}


def test_a_workbook_is_read_sheet_by_sheet_and_what_is_none_is_left_aside(opened, tmp_path: Path) -> None:
    made = openpyxl.Workbook()
    made.active.title = "vehicles"
    for row in (("vehicle_id", "depot"), ("V1", "Osmere")):
        made.active.append(row)
    yards, odd = made.create_sheet("Yards"), made.create_sheet("Odd")
    for row in (("Fleet number", "Yard"), ("V2", "Brack"), ("V3", "Brack")):
        yards.append(row)
    for row in (("a", "b"), ("1", "2")):
        odd.append(row)
    made.save(tmp_path / "book.xlsx")
    app = opened({"book.xlsx": (tmp_path / "book.xlsx").read_bytes()})
    assert not app.error
    assert "It is left aside: none of the columns was recognised" in texts(app)
    app = press(app, "Check")
    assert app.dataframe[-1].value[["path", "accepted"]].to_numpy().tolist() == [
        ["book.xlsx [vehicles]", 1],
        ["book.xlsx [Yards]", 2],
    ]
    app = press(app.toggle[0].set_value(False).run(), "Check")  # this sheet isn't wanted
    assert app.dataframe[-1].value["path"].tolist() == ["book.xlsx [vehicles]"]


def test_maps_of_several_sheets_of_a_file_each_find_their_own(opened) -> None:
    folder_of = folder("sample_fleet") / "exports" / "system_dump"
    files = ["tickets.ndjson", *(path.name for path in sorted(folder_of.glob("map-[1-4]*.toml"), reverse=True))]
    app = press(opened({name: (folder_of / name).read_bytes() for name in files}), "Check")
    assert not app.error, texts(app)
    counts = app.dataframe[-2].value.set_index("path")["table_name"].to_dict()
    assert counts["tickets.ndjson [tests]"] == "job_checks"
    assert counts["tickets.ndjson [faults]"] == "job_codes"


def test_undo_asks_first(opened, tmp_path: Path) -> None:
    store = tmp_path / "store"
    press(opened({"vehicles.csv": TIDY}), "Load")
    app = opened({"vehicles-2.csv": "vehicle_id\nV7\n"})
    assert "nothing to go back to" in texts(app)
    app = press(press(app, "Load"), "Undo")
    assert "takes fleet-000002 back" in app.warning[0].value
    app = press(app, "No")
    assert current(store) == "fleet-000002"
    app = press(press(app, "Undo"), "Yes")
    assert current(store) == "fleet-000001"
    told = [success.value for success in app.success]
    assert told == [
        "Back to earlier data: fleet-000001",
        "Undone: fleet-000002 is taken back, the pages show fleet-000001 again.",
    ]


def test_a_run_that_is_stopped_during_a_load_leaves_the_store_as_it_was(tmp_path: Path) -> None:
    (tmp_path / "vehicles.csv").write_text("vehicle_id\nV1\n")
    load([tmp_path / "vehicles.csv"], tmp_path / "store")
    (tmp_path / "vehicles.csv").write_text("vehicle_id\nV2\n")

    def stopped(_: str, share: float) -> None:
        """The page ends its run so at its next word, where the reader clicked elsewhere."""
        if share >= 0.95:
            raise StopException

    with pytest.raises(StopException):
        load([tmp_path / "vehicles.csv"], tmp_path / "store", progress=stopped)
    assert current(tmp_path / "store") == "fleet-000001"
    assert not list((tmp_path / "store").glob("*.draft*"))


def test_hostile_names_and_values_stay_plain_text(opened) -> None:
    cells = HOSTILE.replace('"', "'")
    rows = "".join(f'{number};"{cells}";0{number}/04/2024;{number}000;"{cells}"\n' for number in range(1, 6))
    app = opened({f"{HOSTILE}.csv": f'Job no;"Reg {cells}";Date in;Mileage;Type\n{rows}'})
    assert not app.exception
    assert "evil.invalid" in texts(app)
    assert read_as_markup(app, "evil") == []


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("../../etc/cron.d/jobs.csv", "jobs.csv"),
        (r"C:\temp\..\jobs.csv", "jobs.csv"),
        ("C:jobs.csv", "jobs.csv"),
        ("..", "upload"),
        ("", "upload"),
        ("/", "upload"),
        ("a\0b\n.csv", "a b .csv"),
        ("x" * 300 + ".csv", "x" * 46 + ".csv"),
        ("März 2024.csv", "März 2024.csv"),
    ],
)
def test_of_a_path_only_the_last_part_is_kept(open_app: Open, name: str, kept: str) -> None:
    open_app("empty", PAGE)  # loads the package
    assert sys.modules["fleetlens_dashboard.uploads"].last_part(name) == kept


def test_files_stand_in_their_own_folder_and_go_with_the_session(open_app: Open) -> None:
    open_app("empty", PAGE)

    class Sent:
        def __init__(self, file_id: str, name: str) -> None:
            self.file_id, self.name = file_id, name

        def getbuffer(self) -> memoryview:
            return memoryview(self.file_id.encode())

    bench = sys.modules["fleetlens_dashboard.uploads"].Bench()
    folder = bench.folder
    first, second = bench.keep([Sent("a", "../jobs.csv"), Sent("b", "jobs.csv")])
    assert (first.read_text(), second.read_text()) == ("a", "b")
    assert {path.name for path in (first, second)} == {"jobs.csv"}
    assert all(folder in path.parents and path.resolve() == path for path in (first, second))
    assert bench.keep([Sent("b", "jobs.csv")]) == [second]
    assert not first.exists()
    assert bench.plain(f"at {second}, row 3") == "at jobs.csv, row 3"
    del bench
    gc.collect()
    assert not folder.exists()
