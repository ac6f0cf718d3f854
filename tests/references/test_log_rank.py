"""Log-rank tests against R's survdiff; sources and bases in values/log_rank.toml."""

from fleetlens.reliability.comparison import log_rank


def test_aml(reference, table) -> None:
    """Miller 1997, p. 49; R prints 3.4, p = 0.0653 (from memory)."""
    lives = table("aml")
    result = log_rank(lives["weeks"], lives["status"], lives["maintained"])
    expected = result.rows["expected"]
    assert result.degrees == 1
    reference("aml_logrank").holds(
        {
            "chisq": result.chi_squared,
            "p": result.p,
            "observed_nonmaintained": result.rows["observed"][0],
            "expected_nonmaintained": expected[0],
            "expected_maintained": expected[1],
        }
    )


def test_ovarian(reference, table) -> None:
    """Edmonson et al. 1979; R prints 1.1, p = 0.303 (from memory)."""
    lives = table("ovarian")
    result = log_rank(lives["futime"], lives["fustat"], lives["rx"] - 1)
    reference("ovarian_logrank").holds({"chisq": result.chi_squared, "p": result.p})
