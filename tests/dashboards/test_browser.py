"""The dashboard in a real Chromium: what only a browser can show.

Needs Debian's chromium; where it is missing the tests are skipped, unless CI is set.
"""

import contextlib
import io
import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import urlopen

import fastexcel
import polars as pl
import pytest
from dashboards.house import HOSTILE, HOUSE, PAGES
from playwright.sync_api import Browser, Download, Page, expect, sync_playwright
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from fleetlens.findings.codes import code_rows, recurring_codes
from fleetlens.findings.filters import Filters, choices
from fleetlens.findings.fleet import overview
from fleetlens.findings.lives import component_lives
from fleetlens.findings.vehicles import vehicle_history
from fleetlens.intake.load import load
from fleetlens.store.reader import open_store

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
MESSY = (
    "Workshop list;;;;;\n"
    "Job no;Reg;Date in;Mileage;Type;Fault\n"
    "1001;AB12 CDE;03/04/2024;45.210;BD;P0401 valve sticking\n"
    "1002;AB12 CDE;05/06/2024;48.110;BD;no power\n"
    "1003;XY34 ZZZ;07/05/2024;91.000;BD;replaced egr valve\n"
    "Total;;;;;3\n"
)
ANSWERS = (  # what can't be told from it
    ("Order of the dates: jobs.opened_at", "day first, 31/12/2024"),
    ("Unit of the distances: jobs.odometer", "miles"),
    ("Word 1 of jobs.reason", "breakdown"),
)
TITLES = {page: page.replace("_", " ").capitalize() for page in PAGES}

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        not Path(CHROMIUM).exists() and "CI" not in os.environ, reason="no chromium here: apt-get install chromium"
    ),
]


class Server:
    """The dashboard on a store, on a free port of this machine."""

    def __init__(self, store: Path) -> None:
        self.store = store
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{port}"
        self._process = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "streamlit",
                "run",
                HOUSE / "app.py",
                f"--server.port={port}",
                "--server.headless=true",
            ],
            env=os.environ | {"FLEETLENS_STORE": str(store)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=store.parent,
        )
        for _ in range(300):
            try:
                with urlopen(f"{self.address}/_stcore/health") as answer:
                    if answer.status == 200:
                        return
            except OSError:
                time.sleep(0.1)
        self.stop()
        raise AssertionError("the dashboard did not start")

    def stop(self) -> None:
        """End it."""
        self._process.terminate()
        self._process.wait(20)


@pytest.fixture(scope="module")
def server(stores: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The dashboard on its own copy of the sample store, for a test loads into it."""
    store = tmp_path_factory.mktemp("served") / "store"
    shutil.copytree(stores["sample"], store)
    served = Server(store)
    yield served
    served.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One Chromium for all."""
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A fresh window. Nothing may be fetched from outside this machine."""
    window = browser.new_page(viewport={"width": 1280, "height": 1000})
    fetched: list[str] = []
    window.on("request", lambda request: fetched.append(request.url))
    yield window
    window.close()
    outside = [url for url in fetched if not re.match(r"(http|ws)://127\.0\.0\.1:|data:|blob:|about:", url)]
    assert outside == []


def visit(page: Page, server: Server, view: str = "", **address: str) -> None:
    """Open a view by its address and wait until it is drawn."""
    page.goto(f"{server.address}/{view}?{urlencode(address)}")
    settled(page)


def settled(page: Page) -> None:
    """Wait until the script has run and its page is drawn, and see that nothing broke."""
    expect(page.get_by_role("heading", level=1)).to_be_visible(timeout=30_000)
    expect(page.get_by_test_id("stApp")).to_have_attribute("data-test-script-state", "notRunning", timeout=30_000)
    expect(page.get_by_test_id("stException")).to_have_count(0)


def pick(page: Page, box: str, option: str) -> None:
    """Choose an option of a box; on a busy machine a list may not open at the first click."""
    for patience in (5_000, 10_000, 30_000):
        page.get_by_role("combobox", name=box).click()
        with contextlib.suppress(PlaywrightTimeout):
            page.get_by_role("option", name=option).click(timeout=patience)
            return
        page.keyboard.press("Escape")
    pytest.fail(f"the list of {box!r} never offered {option!r}")


def downloaded(page: Page, button: str) -> Download:
    """The file behind a button."""
    with page.expect_download() as download:
        page.get_by_role("button", name=button).first.click()
    return download.value


def cells_of(page: Page, table: int) -> list[str]:
    """The cells of a table as a screen reader finds them, row by row."""
    grid = page.get_by_test_id("stDataFrame").nth(table)
    grid.scroll_into_view_if_needed()
    expect(grid.locator("[role=gridcell]").first).to_be_attached()
    return grid.locator("[role=gridcell]").all_text_contents()


def follow_first_link(page: Page, table: int) -> None:
    """Click on the first link in the first row of a table. It is drawn on a canvas: the pointer tells where."""
    box = page.get_by_test_id("stDataFrame").nth(table).bounding_box()
    assert box
    row = box["y"] + 35 + 17
    for place in range(60, int(box["width"]), 12):
        page.mouse.move(box["x"] + place, row)
        page.wait_for_timeout(40)
        if (
            page.evaluate("([x, y]) => document.elementFromPoint(x, y).style.cursor", [box["x"] + place, row])
            == "pointer"
        ):
            page.mouse.down()
            page.wait_for_timeout(60)
            page.mouse.up()
            return
    raise AssertionError("no link in the first row")


def test_every_page_opens_from_the_menu(page: Page, server: Server) -> None:
    visit(page, server)
    for view in (*PAGES[1:], PAGES[0]):
        page.get_by_test_id("stSidebarNav").get_by_role("link", name=TITLES[view]).click()
        expect(page.get_by_role("heading", level=1, name=TITLES[view])).to_be_visible(timeout=20_000)
        settled(page)
        expect(page.get_by_test_id("stAlertContentError")).to_have_count(0)


def test_a_filter_changes_the_figures_and_stands_in_the_address(page: Page, server: Server) -> None:
    with open_store(server.store) as snapshot:
        model = choices(snapshot)["model"][0]
        everything, some = overview(snapshot), overview(snapshot, Filters(model=(model,)))
    visit(page, server)
    first = page.get_by_test_id("stMetricValue").first
    expect(first).to_have_text(f"{everything.vehicles:,}")
    pick(page, "Model", model)
    expect(first).to_have_text(f"{some.vehicles:,}")
    page.keyboard.press("Escape")
    expect(page).to_have_url(re.compile(rf"\?model={model}"))
    expect(page.get_by_text(f"Only model {model}.")).to_be_visible()
    page.get_by_test_id("stSidebarNav").get_by_role("link", name="Comebacks").click()
    expect(page.get_by_role("heading", level=1, name="Comebacks")).to_be_visible()
    expect(page.get_by_text(f"Only model {model}.")).to_be_visible()  # it holds on the next page too


def test_downloads_open_and_hold_the_rows_of_the_python_call(page: Page, server: Server) -> None:
    with open_store(server.store) as snapshot:
        called = recurring_codes(snapshot)
    visit(page, server, "recurring_codes")
    csv = downloaded(page, "Download CSV")
    assert csv.suggested_filename == f"recurring-codes-{called.snapshot}.csv"
    rows = pl.read_csv(csv.path(), infer_schema_length=None)
    assert rows["code"].to_list() == called.rows["code"].to_list()
    assert rows["episodes"].to_list() == called.rows["episodes"].to_list()
    parquet = pl.read_parquet(io.BytesIO(downloaded(page, "Download Parquet").path().read_bytes()))
    assert parquet["rate_low"].to_list() == called.rows["rate_low"].to_list()
    book = fastexcel.read_excel(downloaded(page, "Download XLSX").path())
    sheet = book.load_sheet(0, header_row=0).to_polars()
    assert sheet.height == called.rows.height
    assert sheet["Code"].to_list() == called.rows["code"].to_list()


def test_figures_on_screen_are_those_of_the_python_call(page: Page, server: Server) -> None:
    with open_store(server.store) as snapshot:
        called = component_lives(snapshot, "egr_valve", by=("duty",)).rows.row(0, named=True)
    visit(page, server, "component_life", component="egr_valve", by="Duty")
    cells = cells_of(page, 0)
    assert f"{called['failures']:,} of {called['lives']:,}" in cells
    life = cells.index(f"{called['b10_low']:,.0f}–{called['b10_high']:,.0f}") - 1
    assert float(cells[life]) == pytest.approx(called["b10_km"])
    page.get_by_test_id("stDataFrame").first.click(position={"x": 15, "y": 35 + 17})  # the box of the first row
    expect(page.get_by_text(f"Those of egr_valve, {called['duty']}.")).to_be_visible()
    expect(page.get_by_test_id("stDataFrame")).to_have_count(3)
    assert called["duty"] in cells_of(page, 2)


def test_a_row_of_the_table_opens_the_jobs_of_its_code_and_a_job_its_vehicle(page: Page, server: Server) -> None:
    with open_store(server.store) as snapshot:
        code = recurring_codes(snapshot).rows["code"][1]
        vehicle = code_rows(snapshot, code).rows["vehicle_id"][0]
        first_job = vehicle_history(snapshot, vehicle).rows["job_id"][0]
    visit(page, server, "recurring_codes")
    page.get_by_test_id("stDataFrame").first.click(position={"x": 15, "y": 35 + 35 + 17})  # the box of the second row
    expect(page).to_have_url(re.compile(rf"code={code}"))
    expect(page.get_by_test_id("stDataFrame")).to_have_count(2)
    settled(page)
    assert vehicle in cells_of(page, 1)
    with page.expect_popup() as opened:
        follow_first_link(page, 1)
    expect(opened.value).to_have_url(f"{server.address}/vehicle_history?vehicle={vehicle}")
    settled(opened.value)
    assert first_job in cells_of(opened.value, 0)


def test_an_address_opens_a_view_on_a_fresh_session(page: Page, server: Server) -> None:
    with open_store(server.store) as snapshot:
        code = recurring_codes(snapshot).rows["code"][2]
    visit(page, server, "recurring_codes", code=code)
    expect(page.get_by_test_id("stDataFrame")).to_have_count(2)
    expect(page.get_by_role("combobox", name="Show the jobs of this code")).to_have_value(code)


def test_a_choice_can_be_made_with_the_keyboard_alone(page: Page, server: Server) -> None:
    visit(page, server, "comebacks")
    page.get_by_role("combobox", name="Component").focus()
    page.keyboard.type("dpf")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"component=dpf"))
    settled(page)
    expect(page.get_by_text("Component: dpf").first).to_be_visible()


def test_a_narrow_page_needs_no_sideways_scrolling(page: Page, server: Server) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    for view in PAGES:
        visit(page, server, view)
        main = page.get_by_test_id("stMain")
        assert main.evaluate("main => main.scrollWidth <= main.clientWidth"), view


def test_markup_in_job_text_draws_nothing(page: Page, stores: dict[str, Path]) -> None:
    served = Server(stores["hostile"])
    try:
        visit(page, served, "vehicle_history", vehicle=f"V1 {HOSTILE}")
        expect(page.get_by_text("evil.invalid").first).to_be_attached()
        for view in ("overview", "recurring_codes", "comebacks"):
            visit(page, served, view, rows="true", code="P0401", model=HOSTILE)
            assert page.locator("a[href*='evil'], img[src*='evil']").count() == 0
            assert page.title() != "taken"
    finally:
        served.stop()


def test_a_load_is_offered_to_those_who_look(page: Page, server: Server, tmp_path: Path) -> None:
    visit(page, server)
    vehicles = page.get_by_test_id("stMetricValue").first
    expect(vehicles).to_have_text("60")
    (tmp_path / "vehicles.csv").write_text("vehicle_id,in_service_on\nADDED,2023-01-01\n")
    load([tmp_path / "vehicles.csv"], server.store)
    expect(page.get_by_text("Newer data is here: fleet-000002")).to_be_visible(timeout=40_000)
    expect(vehicles).to_have_text("60")  # nothing changes under a reader's eyes
    page.get_by_role("button", name="Show the newer data").click()
    expect(page.get_by_text("New data loaded: fleet-000002")).to_be_visible()
    expect(vehicles).to_have_text("61")


def test_a_messy_file_is_brought_in_and_taken_back(page: Page, tmp_path: Path) -> None:
    messy, vehicle = tmp_path / "jobs list.csv", tmp_path / "vehicles.csv"
    messy.write_text(MESSY)
    vehicle.write_text("vehicle_id,in_service_on\nADDED,2023-01-01\n")
    (tmp_path / "served").mkdir()
    served = Server(tmp_path / "served" / "store")  # there is no store yet
    try:
        visit(page, served, "bring_in_data")
        page.locator("input[type=file]").set_input_files(messy)
        expect(page.get_by_text("Found: UTF-8, ';' between columns, header in row 2")).to_be_visible(timeout=30_000)
        for left, (label, option) in zip(range(3, 0, -1), ANSWERS, strict=True):
            expect(page.get_by_text(f"jobs list.csv: {left} to be answered")).to_be_visible(timeout=30_000)
            settled(page)
            page.get_by_role("combobox", name=label).click()
            page.get_by_role("option", name=option).click(timeout=30_000)
        expect(page.get_by_role("button", name="Load", exact=True)).to_be_enabled(timeout=30_000)
        settled(page)
        assert "2024-04-03" in cells_of(page, 1)
        assert downloaded(page, "Download the map").suggested_filename == "jobs list.toml"
        page.get_by_role("button", name="Load", exact=True).click()
        expect(page.get_by_text("Loaded: the store shows fleet-000001")).to_be_visible(timeout=30_000)
        page.get_by_test_id("stSidebarNav").get_by_role("link", name="Overview").click()
        expect(page.get_by_test_id("stMetricValue").first).to_have_text("2", timeout=30_000)

        visit(page, served, "bring_in_data")
        page.locator("input[type=file]").set_input_files([messy, vehicle])
        expect(page.get_by_text("the map that the store remembers for its columns: jobs list.")).to_be_visible(
            timeout=30_000
        )
        settled(page)
        page.get_by_role("button", name="Load", exact=True).click()
        expect(page.get_by_text("Loaded: the store shows fleet-000002")).to_be_visible(timeout=30_000)
        settled(page)
        page.get_by_role("button", name="Undo the last load").click()
        page.get_by_role("button", name="Yes, take fleet-000002 back").click(timeout=30_000)
        expect(page.get_by_text("Undone: fleet-000002 is taken back")).to_be_visible(timeout=30_000)
        with open_store(served.store) as snapshot:
            assert snapshot.name == "fleet-000001"
            assert overview(snapshot).vehicles == 2
    finally:
        served.stop()
