"""The quote: its arithmetic by hand from round rates, and that its parts add up. Rates here are invented."""

from __future__ import annotations

import json

import jsonschema
import pytest

from planner import plan
from recognizer import recognize
from service.quoting import quote
from shared.errors import DataFileError
from shared.quote import QuoteDocument
from shared.shop.rates import default_rates, load_rates

PART = "models/balance_weight.step"
RATES = """name = "own rates"
currency = "CHF"
machine_hour = 60
setup_hour = 120
programming_hour = 90
programming = 20
programming_operation = 0
setup = 30
prove_out = 0
cutter = 0
load = 2
inspection = 0
scrap = 0.2
markup = 0.5
[material]
aluminium = 10
"""


@pytest.fixture(scope="module")
def planned():
    features = recognize(PART)
    return features, plan(features)


@pytest.fixture
def rates(tmp_path):
    path = tmp_path / "rates.toml"
    path.write_text(RATES)
    return load_rates(str(path))


def test_price_by_hand(planned, rates):
    """Block 64 x 44 x 34 mm of 2.7 kg/dm3: 0.2585 kg at 10 a kg. Two clampings: 60 min at 2 a minute to make ready, 4 min
    of loading; programming 20 min at 1.5. A fifth is scrap, so each good part pays 1.25 times; half on top."""
    features, document = planned
    found = quote(features, document, rates, (1, 10))
    mass = 64 * 44 * 34 * 2.7e-6
    assert found.stock.mass == pytest.approx(mass) == pytest.approx(0.2585, abs=1e-4)
    each = 1.25 * (document.totals.minutes * 1.0 + 4 * 1.0 + mass * 10)
    order = 60 * 2.0 + 20 * 1.5
    assert document.totals.clampings == 2 and not found.special_cutters
    for price in found.prices:
        assert price.each == pytest.approx(1.5 * (each + order / price.quantity))
        assert price.total == pytest.approx(price.quantity * price.each)
        assert sum(price.parts.values()) == pytest.approx(price.each)


def test_minutes_add_up_to_the_plans(planned):
    features, document = planned
    minutes = quote(features, document, default_rates()).minutes
    assert minutes.cutting + minutes.rapids + minutes.cutter_changes == pytest.approx(minutes.cycle)
    assert minutes.cycle == pytest.approx(document.totals.minutes)
    assert minutes.cutter_changes == pytest.approx(0.1 * document.totals.tool_changes)


def test_counts_and_what_the_price_leaves_out(planned):
    features, document = planned
    found = quote(features, document, default_rates())
    assert found.counts == {"planar_face": 6, "slot": 1, "round_hole": 4, "enclosed_void": 1}
    assert [u.feature for u in found.unplanned] == [u.feature for u in document.unplanned]
    codes = {f.code for f in found.warnings}
    assert {"price_without_unplanned", "threads_not_priced"} <= codes


def test_drivers_are_the_prices_parts_with_markup(planned, rates):
    """The causes together are the price, and the dearest comes first at the middle quantity."""
    features, document = planned
    found = quote(features, document, rates, (1, 10, 100))
    causes = [d for d in found.drivers if not d.features]
    for k, price in enumerate(found.prices):
        assert sum(d.costs[k] for d in causes) == pytest.approx(price.each, abs=0.03)
    assert [d.costs[1] for d in causes] == sorted((d.costs[1] for d in causes), reverse=True)


def test_a_special_cutter_is_named_and_paid_once():
    features = recognize("models/dovetail_clamp.step")
    found = quote(features, plan(features), default_rates(), (1, 10))
    kinds = {s.tool.kind for s in found.special_cutters}
    assert "dovetail_mill" in kinds
    assert found.prices[0].parts["special_cutters"] == pytest.approx(10 * found.prices[1].parts["special_cutters"])


def test_more_parts_never_cost_more_each(planned):
    features, document = planned
    prices = quote(features, document, default_rates(), (1, 2, 5, 10, 100, 1000)).prices
    assert [p.each for p in prices] == sorted((p.each for p in prices), reverse=True)


def test_no_price_for_a_material_is_said(planned, tmp_path):
    features, document = planned
    other = document.model_copy(update={"job": document.job.model_copy(update={"material": "unobtainium"})})
    found = quote(features, other, default_rates())
    assert "price_without_material" in {f.code for f in found.warnings}
    assert found.prices[0].parts["material"] == 0.0


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        ("markup = 15", "rates.toml, line 1, field markup", "from 0 to 5"),
        ("machine_our = 60", "rates.toml, line 1, field machine_our", "machine_hour"),
        ('currency = "USD"', "rates.toml, line 1, field currency", "machine_hour"),
        ("load = 1\n[material]\nsteel = -2", "rates.toml, line 3, field steel", "at least 0"),
        ("[materials]\nsteel = 2", "rates.toml, line 1", "[material]"),
    ],
)
def test_a_wrong_rates_file_is_told_with_line_and_field(tmp_path, text, where, says):
    path = tmp_path / "rates.toml"
    path.write_text(text)
    with pytest.raises(DataFileError) as caught:
        load_rates(str(path))
    assert caught.value.where == where and says in caught.value.message + caught.value.hint


def test_rates_as_csv(tmp_path):
    path = tmp_path / "rates.csv"
    path.write_text("field,value\nmachine_hour,95\nmaterial.steel,2.5\n")
    rates = load_rates(str(path))
    assert (rates.machine_hour, rates.setup_hour, rates.material["steel"]) == (95.0, 95.0, 2.5)


def test_the_command(sidewise, tmp_path):
    path = tmp_path / "rates.toml"
    path.write_text(RATES)
    said = sidewise("quote", PART, "--rates", path, "--quantities", "1,25")
    assert said.exit_code == 0, said.output
    assert "NOT IN THE PRICE" in said.stdout and "CHF each at 1 / 25" in said.stdout and "Cautions" in said.stdout
    text = sidewise("quote", PART, "-o", "-").stdout
    assert text == sidewise("quote", PART, "-o", "-").stdout
    jsonschema.validate(json.loads(text), json.loads(sidewise("schema", "quote").stdout))
    assert [p.quantity for p in QuoteDocument.from_json(text).prices] == [1, 10, 100]
    for wrong in ("0", "ten", "1,,2", "nan", "1e9", "-3"):
        refused = sidewise("quote", PART, f"--quantities={wrong}")
        assert refused.exit_code == 2 and "--quantities" in refused.stderr
    assert sidewise("quote", PART, "--strict").exit_code == 1
