"""What the tests of the dashboard share: where it stands, hostile text, and what a page says."""

import csv
from collections.abc import Callable
from pathlib import Path

from streamlit.testing.v1 import AppTest

from fleetlens.places import folder

HOUSE = folder("dashboards")
PAGES = tuple(sorted(path.stem for path in (HOUSE / "views").glob("*.py")))
HOSTILE = (
    "[read me](http://evil.invalid/a) ![photo](http://evil.invalid/b.png) <img src='http://evil.invalid/c.png'> "
    "<script>document.title='taken'</script> http://evil.invalid/d :red[boo] $x^2$"
)

READS_MARKDOWN = (
    "title",
    "header",
    "subheader",
    "markdown",
    "caption",
    "info",
    "warning",
    "error",
    "success",
    "metric",
)
LABELLED = ("selectbox", "multiselect", "toggle", "number_input", "text_input", "button", "download_button")

Open = Callable[..., AppTest]


def write_hostile(place: Path) -> None:
    """A vehicle and its jobs with links, pictures and markup wherever text is free."""
    jobs = [
        (
            f"=J{number} {HOSTILE}",
            f"V1 {HOSTILE}",
            f"2024-0{number}-01",
            f"{20_000 * number}",
            "breakdown",
            HOSTILE,
            HOSTILE,
        )
        for number in range(1, 6)
    ]
    tables = {
        "vehicles": [
            ("vehicle_id", "make", "model", "duty", "depot", "in_service_on", "in_service_km"),
            (f"V1 {HOSTILE}", HOSTILE, HOSTILE, HOSTILE, HOSTILE, "2023-01-01", "0"),
        ],
        "jobs": [("job_id", "vehicle_id", "opened_at", "odometer", "reason", "complaint", "workshop"), *jobs],
        "job_codes": [("job_id", "code"), *((job[0], "P0401") for job in jobs)],
        "job_actions": [
            ("job_id", "line", "component", "action", "cause", "part_grade", "note"),
            *((job[0], "1", "egr_valve", "clean", HOSTILE, HOSTILE, HOSTILE) for job in jobs),
        ],
    }
    for name, rows in tables.items():
        with (place / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)


def texts(app: AppTest) -> str:
    """All plain text on the page."""
    return "\n".join(element.value for element in app.text)


def read_as_markup(app: AppTest, word: str) -> list[object]:
    """What holds `word` and is read as Markdown: elements, and labels of widgets."""
    elements = [element.proto for kind in READS_MARKDOWN for element in app.get(kind)]
    labels = [widget.label for kind in LABELLED for widget in app.get(kind)]
    return [one for one in (*elements, *labels) if word in str(one)]
