"""The preferences file: every key is checked, named in errors, and written with its meaning."""

import re
import tomllib
from dataclasses import fields
from datetime import date
from pathlib import Path

import pytest

from fleetlens.errors import FleetlensError
from fleetlens.store import preferences
from fleetlens.store.preferences import FILE, ComponentPrices, Preferences


def write(folder: Path, text: str) -> Path:
    (folder / FILE).write_text(text, encoding="utf-8")
    return folder


def test_without_a_file_the_defaults_hold(tmp_path: Path) -> None:
    assert preferences.read(tmp_path) == Preferences()
    assert preferences.read(tmp_path / "nowhere") == Preferences()


def test_what_is_set_is_read(tmp_path: Path) -> None:
    found = preferences.read(
        write(
            tmp_path,
            """
            [money]
            currency = "eur"
            downtime_rate = 45
            [workshop]
            hours_a_day = 24
            bays = 3
            closed_weekdays = ["Sunday"]
            closed_days = [2026-12-26, 2026-12-25]
            [plan]
            weeks = 12
            [component.egr_valve]
            clean = 180
            warranty_months = 24
            """,
        )
    )
    assert (found.money.currency, found.money.downtime_rate, found.money.recovery) == ("EUR", 45.0, 0.0)
    assert (found.workshop.hours_a_day, found.workshop.bays) == (24.0, 3)
    assert found.workshop.closed_weekdays == ("sunday",)
    assert found.workshop.closed_days == (date(2026, 12, 25), date(2026, 12, 26))
    assert (found.plan.weeks, found.plan.horizon_km) == (12, 100_000.0)
    assert found.prices("egr_valve") == ComponentPrices(clean=180.0, warranty_months=24)
    assert found.prices("turbo") == ComponentPrices()
    assert found.where.endswith(FILE)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("[money]\ndowntime_rate = -1", ("downtime_rate", "-1", "[money]")),
        ("[money]\ndowntime_rate = '45'", ("downtime_rate", "'45'")),
        ("[money]\ndowntime_rate = nan", ("downtime_rate", "nan")),
        ("[money]\ncurrency = 'euros'", ("currency", "'euros'", "ISO 4217")),
        ("[money]\nrate = 4", ("'rate'", "[money]")),
        ("[mony]\nrecovery = 4", ("'mony'", "'money'")),
        ("money = 4", ("'money'", "table")),
        ("[workshop]\nbays = 0", ("bays", "from 1")),
        ("[workshop]\nbays = 2.5", ("bays", "whole")),
        ("[workshop]\nbays = true", ("bays", "whole")),
        ("[workshop]\nclosed_weekdays = ['sonntag']", ("closed_weekdays", '"sunday"')),
        (f"[workshop]\nclosed_weekdays = {list(preferences.WEEKDAYS)}", ("closed_weekdays", "leaves a day open")),
        ("[workshop]\nclosed_days = ['2026-12-25']", ("closed_days", "without quotes")),
        ("[people]\nname_technicians = 'yes'", ("name_technicians", "true or false")),
        ("[component.egr_valve]\nclean = 0", ("clean", "above 0", "[component.egr_valve]")),
        ("[component.egr_valve]\ncleaning = 5", ("'cleaning'", "'clean'")),
        ("[component]\negr_valve = 5", ("'egr_valve'", "table")),
        ("[money", ("TOML",)),
    ],
)
def test_a_fault_is_named_with_its_key_and_remedy(tmp_path: Path, text: str, named: tuple[str, ...]) -> None:
    with pytest.raises(FleetlensError) as caught:
        preferences.read(write(tmp_path, text))
    for word in (FILE, *named):
        assert word in str(caught.value)


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / FILE).write_bytes(b"\xff\xfe\x00[")
    with pytest.raises(FleetlensError, match="UTF-8"):
        preferences.read(tmp_path)


def test_the_template_changes_nothing_and_with_every_key_set_is_valid(tmp_path: Path) -> None:
    text = preferences.template()
    assert preferences.read(write(tmp_path, text)) == Preferences(where=str(tmp_path / FILE))
    opened = re.sub(r"^# (\[|\w+ = )", r"\1", text, flags=re.MULTILINE)
    assert set(tomllib.loads(opened)) == {
        *(f.name for f in fields(Preferences)),
    } - {"where", "stated"}
    found = preferences.read(write(tmp_path, opened))
    assert found.workshop == Preferences().workshop
    assert None not in {getattr(found.prices("egr_valve"), f.name) for f in fields(ComponentPrices)}
