"""The growth benchmark measures what it says; no time is judged here."""

from __future__ import annotations

import pytest

from tests.benchmarks import simulation_growth


def test_powers_are_those_of_the_series():
    assert simulation_growth.power([1.0, 2.0, 4.0], [3.0, 12.0, 48.0]) == pytest.approx(2.0)


def test_a_plate_has_its_pockets():
    made = simulation_growth.plate(80.0, 2)
    assert len(made.faces().vals()) == 6 + 4 * 9
    assert made.val().Volume() < 80.0 * 80.0 * 20.0


def test_three_series_are_printed(monkeypatch, capsys):
    monkeypatch.setattr(simulation_growth, "ACROSS", (1, 2))
    monkeypatch.setattr(simulation_growth, "RESOLUTIONS", (1.6, 0.8))
    monkeypatch.setattr(simulation_growth, "SIZES", (30.0, 40.0))
    assert simulation_growth.main(["--runs", "1"]) == 0
    said = capsys.readouterr().out
    assert said.count("simulation grows with power") == 3
