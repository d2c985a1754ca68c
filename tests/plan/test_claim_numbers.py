"""Numbers of claims as data sheets write them: read right, or refused with the sentence that helps."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.profile.claim_sheet import Terms, terms_of


@pytest.mark.parametrize(
    ("claim", "low", "high"),
    [
        ("contrast 1 000 000:1 typical", 1e6, None),
        ("contrast >= 1000000:1", 1e6, None),
        ("contrast >= 1\u202f000\u202f000:1", 1e6, None),
        ("gamma 2.200 ± 0.1", 2.1, 2.3),
        ("white x 0.313 ± 0.002", 0.311, 0.315),
        ("black luminance <= 0.050 cd/m2", None, 0.05),
        ("white luminance at brightness=12.345 >= 350", 350.0, None),
        ("white luminance >= 350 cd/m^2", 350.0, None),
        # 1 fL = 1 / pi cd/ft2 = 3.4262591 cd/m2 (PS3.14 prints 3.426).
        ("white luminance >= 100 fL", 342.62591, None),
        ("white luminance 100 ± 2 fL", 335.7733918, 349.4784282),
        ("white luminance 100 fL ± 2 cd/m2", 340.62591, 344.62591),
        ("peak luminance of a 10 % window >= 300 ft-L", 1027.87773, None),
    ],
)
def test_numbers_and_units_that_are_read(claim: str, low: float | None, high: float | None) -> None:
    terms = terms_of(claim)
    assert (terms.low, terms.high) == (pytest.approx(low), pytest.approx(high))


@pytest.mark.parametrize(
    ("claim", "said"),
    [
        ("contrast 1.000:1 typical", "number '1.000': it may be read as 1000 or as 1.0; write 1000 or 1 000, or 1.0"),
        ("contrast >= 1,000:1", "it may be read as 1000 or as 1.0"),
        ("white luminance >= 350.125 nit", "it may be read as 350125 or as 350.1250"),
        ("white CCT 6.500 K ± 300", "it may be read as 6500 or as 6.5;"),
        ("white CCT 6500 K ± 1.000", "it may be read as 1000 or as 1.0"),
        ("contrast of a 3 x 3 board >= 1.000", "it may be read as 1000"),
        ("peak luminance of a 10 % window >= 1.000 nits", "it may be read as 1000"),
        ("contrast >= 1,000,000:1", "number '1,000,000': write thousands with blanks or with nothing between them: "),
        ("contrast >= 1,000,000:1", "1 000 000 or 1000000"),
        ("contrast >= 1.000.000:1", "1 000 000 or 1000000"),
        ("contrast >= 1'000'000:1", "1 000 000 or 1000000"),
        ("contrast >= 1\u2019000:1", "1 000 or 1000"),
        ("white luminance >= 350,5 nit", "the decimal sign is a point: write 350.5"),
        ("white luminance >= 1 000,5 nit", "write 1000.5"),
        ("coverage of BT.2020 in u'v' >= 90,5 %", "write 90.5"),
        ("white luminance >= 1.234,5 nit", "write 1 234.5"),
        ("white luminance >= 1,234.5 nit", "write 1 234.5"),
        ("contrast 1e6:1 typical", "write it in plain digits"),
    ],
)
def test_other_ways_of_writing_are_refused_with_what_helps(claim: str, said: str) -> None:
    with pytest.raises(ValueError, match=r"^claim ") as refused:
        terms_of(claim)
    assert said in str(refused.value)


@given(st.integers(1, 10**9))
def test_every_way_of_writing_a_whole_ratio_is_read_as_itself_or_refused(number: int) -> None:
    """Nothing is read as another number: 1.000:1 was read as 1:1, and MET."""
    right = Terms("contrast", float(f"{number:.10g}"), None, "1", typical=False)
    for sign in (",", ".", "'", "\u2019", "_", " ", "\u00a0", ""):
        text = f"contrast >= {number:,}:1".replace(",", sign)
        if sign in (" ", "\u00a0", "") or number < 1000:
            assert terms_of(text) == right
        else:
            with pytest.raises(ValueError, match="write"):
                terms_of(text)
