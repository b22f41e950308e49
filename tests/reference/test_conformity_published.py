"""Verdicts against the worked examples of JCGM 106:2012 and the rule of ISO 14253-1:2017.

JCGM 106: the examples of 7.4 and table 1, from memory. ISO 14253-1: the guard band of 1.65 u
at 95 %, from memory. The units do not matter; the examples' numbers are judged as mm.
"""

import pytest

from photomeasure.records.job import Rule
from photomeasure.records.report import Quantity, Verdict
from photomeasure.rules.decide import decide


def verdict(value, u, at_least=None, at_most=None):
    rule = Rule("r", "gap", "mm", "w", "s", "user", at_least=at_least, at_most=at_most)
    quantity = Quantity("m", "gap", "mm", value, u, (value - 2 * u, value + 2 * u), {"a": u}, True)
    return decide(rule, quantity)


def test_zener_diode_upper_limit():
    """-5.47 V with u 0.05 V against at most -5.40 V: p = Φ(1.4) = 0.92, so it cannot be told."""
    decision = verdict(-5.47, 0.05, at_most=-5.40)
    assert decision.probability == pytest.approx(0.92, abs=0.005)
    assert decision.verdict is Verdict.CANNOT_TELL


def test_container_burst_strength_lower_limit():
    """509.7 kPa with u 8.6 kPa against at least 490 kPa: p = Φ(2.29) = 0.99, so it conforms."""
    decision = verdict(509.7, 8.6, at_least=490)
    assert decision.probability == pytest.approx(0.99, abs=0.005)
    assert decision.verdict is Verdict.CONFORMS


@pytest.mark.parametrize(
    ("z", "p"), [(0.84, 0.80), (1.28, 0.90), (1.64, 0.95), (2.33, 0.99), (3.09, 0.999)]
)
def test_table_1_of_jcgm_106(z, p):
    """The conformance probability of a value z standard uncertainties inside one limit."""
    assert verdict(10 + 0.1 * z, 0.1, at_least=10).probability == pytest.approx(p, abs=0.001)


@pytest.mark.parametrize(
    ("margin_in_u", "told"),
    [
        (1.65, Verdict.CONFORMS),
        (1.64, Verdict.CANNOT_TELL),
        (-1.64, Verdict.CANNOT_TELL),
        (-1.65, Verdict.DOES_NOT_CONFORM),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_iso_14253_proves_beyond_1_65_u(margin_in_u, told, side):
    """Conformity is proved 1.65 u inside a limit and disproved 1.65 u outside, on either side."""
    limit = {"at_least" if side == 1 else "at_most": 10.0}
    assert verdict(10 + side * margin_in_u * 0.1, 0.1, **limit).verdict is told
