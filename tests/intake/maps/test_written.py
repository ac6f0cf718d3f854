"""Maps as TOML: what is written is read again, and each fault names the map, the key, the value and the remedy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps.column_map import ColumnMap, Origin
from fleetlens.intake.maps.shape import shape
from fleetlens.intake.maps.written import parse, write

HEAD = 'name = "x"\nkind = "wide"\n'
JOBS = '[jobs]\njob_id = "Job"\nvehicle_id = "Van"\nopened_at = "In"\n'

names = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12).filter(
    lambda name: name != "?"
)
origins = st.builds(
    Origin,
    column=names,
    date_order=st.sampled_from(["", "day_first", "month_first", "year_first", "?"]),
    zone=st.sampled_from(["", "Europe/Berlin"]),
    date_base=st.sampled_from([0, 1900, 1904]),
    mend_century=st.booleans(),
)


@given(name=names, header=st.lists(names, max_size=5), opened=origins, once=st.booleans(), meaning=names)
def test_what_is_written_is_read_again(name: str, header: list[str], opened: Origin, once: bool, meaning: str) -> None:
    made = ColumnMap(
        name=name,
        kind="wide",
        header=tuple(header),
        tables={
            "jobs": {
                "job_id": Origin(made_from=("vehicle_id", "opened_at")),
                "vehicle_id": Origin(column="Van"),
                "opened_at": opened,
                "odometer": Origin(column="Km", unit="from column U"),
                "reason": Origin(column="Why", values={meaning: "defect", "-": ""}),
                "workshop": Origin(constant="Harlbridge Lane"),
            },
            "job_codes": {"code": Origin(column="Codes", split=True)},
            "job_actions": {"line": Origin(counted=True), "note": Origin(column="Text", text=True)},
        },
        first_row_only=once,
        where="here",
    )
    assert parse(write(made), "here") == made


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("name = 'x'\n", ["no kind", "add kind"]),
        ('name = "x"\nkind = "broad"\n' + JOBS, ["kind can't be 'broad'", "key kind", 'write "table" or "wide"']),
        (HEAD + "colums = 1\n" + JOBS, ["'colums'", "key colums"]),
        (HEAD + JOBS + 'odometr = "Km"\n', ["'odometr'", "key jobs.odometr", "the nearest is 'odometer'"]),
        (
            HEAD + JOBS + 'reason = { column = "Why", values = { "B/D" = "breakdwn" } }\n',
            ["jobs.reason.values.B/D can't be 'breakdwn'", "the nearest is 'breakdown'"],
        ),
        (
            HEAD + JOBS + 'odometer = { column = "Km", unit = "furlongs" }\n',
            ["jobs.odometer.unit can't be 'furlongs'", '"km", "mi" or "from column NAME"'],
        ),
        (
            HEAD + JOBS + 'complaint = { column = "C", date_order = "day_first" }\n',
            ["jobs.complaint.date_order", "date_order means nothing for jobs.complaint"],
        ),
        (
            HEAD + JOBS + 'closed_at = { column = "C", date_order = "dmy" }\n',
            ["jobs.closed_at.date_order can't be 'dmy'", "day_first, month_first, year_first"],
        ),
        (
            HEAD + JOBS + 'workshop = { column = "C", constant = "D" }\n',
            ["give exactly one of column, constant, made_from, counted"],
        ),
        (
            HEAD + '[jobs]\njob_id = "Job"\nopened_at = "In"\n',
            ["doesn't say where jobs.vehicle_id comes from", "add vehicle_id"],
        ),
        (
            'name = "x"\nkind = "table"\n' + JOBS + '[job_codes]\ncode = "C"\n',
            ["the map has 2 tables", 'kind = "wide"'],
        ),
        (HEAD + "[jobs\n", ["no TOML", "mend the line"]),
    ],
)
def test_a_fault_names_key_value_and_remedy(text: str, told: list[str]) -> None:
    with pytest.raises(FleetlensError) as error:
        parse(text, "my.toml")
    assert "my.toml" in str(error.value)
    assert [part for part in told if part not in str(error.value)] == []


def test_the_shape_of_a_header_is_its_names_in_any_order() -> None:
    assert shape(["Job No", "Reg"]) == shape([" reg", "JOB  no"])
    assert shape(["Job No", "Reg"]) != shape(["Job No", "Reg", "Km"])
