"""Batches for the tests of the sums, made by Hypothesis or by hand."""

from hypothesis import strategies as st

from monitor.chemistry import all_oils, portion
from monitor.formulation.alkali import Charge, ChargeInputs, charge

# Flakes for 600 g of rapeseed at 188.6 mg/g, 3 % excess, 90 % assay: by hand.
FLAKES_G = 600 * 0.1886 * 1.03 / 0.90
NAMES = [row.name for row in all_oils()]

portions = st.lists(
    st.builds(
        portion,
        st.sampled_from(NAMES),
        st.floats(10.0, 2000.0),
        st.none() | st.floats(80.0, 300.0),
    ),
    min_size=1,
    max_size=4,
).map(tuple)

inputs = st.builds(
    ChargeInputs,
    portions,
    koh_assay=st.floats(0.8, 0.97),
    koh_carbonate=st.floats(0.0, 0.03),
    assay_is_total=st.booleans(),
    naoh_share=st.just(0.0) | st.floats(0.0, 1.0),
    excess=st.floats(-0.2, 0.5),
    lye_strength=st.floats(0.06, 0.45),
    glycerol_g=st.floats(0.0, 200.0),
)


def single_oil_charge(
    oil: str = "rapeseed", grams: float = 600.0, water_g: float = 540.0, excess: float = 0.03
) -> Charge:
    return charge(ChargeInputs((portion(oil, grams),), excess=excess, water_g=water_g))
