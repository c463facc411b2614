"""What people type becomes a job, or a UsageError with an example."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.options import stock_from, threads_from
from service.run import Asked, job_from
from shared.errors import UsageError


def test_stock_is_one_number_six_or_a_file(tmp_path: Path) -> None:
    file = tmp_path / "stock.step"
    file.write_text("")
    assert stock_from("2") == 2.0
    assert stock_from("2,2,2,2,0,3") == [2, 2, 2, 2, 0, 3]
    assert stock_from(str(file)) == str(file)


def test_threads_are_keyed_as_the_planner_writes_diameters() -> None:
    assert threads_from(["10.20=M12", "9 = M10x1", "round_hole-ab=M8"]) == {
        "10.2": "M12",
        "9": "M10x1",
        "round_hole-ab": "M8",
    }


def test_options_become_the_job() -> None:
    job = job_from(Asked(stock="1.5", axes=4, material="steel", tools="shop.csv", threads=("6.8=M8",)))
    assert (job.stock, job.axes, job.material, job.tools) == (1.5, 4, "steel", "shop.csv")
    assert job.threads == {"6.8": "M8"}


@pytest.mark.parametrize("text", ["", "a", "1,2", "inf", "1,1,1,1,1,-1"])
def test_wrong_stock_shows_a_right_example(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        stock_from(text)
    assert "2,2,2,2,0,3" in caught.value.hint
