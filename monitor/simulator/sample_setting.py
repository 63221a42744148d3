"""The invented cook that the virtual rig plays: an ordinary cooker, a made-up batch, one loose probe."""

from importlib.resources import files
from types import MappingProxyType

from monitor.formulation import read_sheet
from monitor.simulator.plant import Plant, PlantCharge
from monitor.simulator.sensors import Fault
from monitor.simulator.simulation import Setting

BATCH_FILE = files("monitor.simulator").joinpath("invented_batch.toml")
# The source of an invented recording; no kitchen learns from it.
INVENTED = "invented"
# 9 May 2026, 09:00 UTC: a demo's cook time is fixed, so that its seed alone decides its bytes.
BEGAN = 1_778_317_200.0


def invented_sheet() -> str:
    """The batch sheet as TOML text."""
    return BATCH_FILE.read_text(encoding="utf-8")


def invented_setting() -> Setting:
    """The cooker, the person and the probes of the invented cook."""
    charge = PlantCharge.of(read_sheet(invented_sheet()))
    # The wall probe comes loose for a few minutes, to show that a fault is data.
    loose = MappingProxyType({"wall": (Fault(5700.0, 6120.0),)})
    return Setting(Plant(charge), faults=loose)
