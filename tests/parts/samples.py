"""Samples of every kind of part, invented: what the tests of all kinds are run over. A new kind adds its own here."""

from typing import NamedTuple

import msgspec
import numpy as np

from workbench.parts.capacitor import Capacitor
from workbench.parts.conditioners.by_model import ModelConditioner
from workbench.parts.conditioners.limiting import LimitingConditioner, SwingSetting
from workbench.parts.conditioners.linear import GainSetting, LinearConditioner
from workbench.parts.conditioners.network_set import NetworkSetConditioner, SettingNetwork
from workbench.parts.conditioners.table import GainPoint, TableConditioner, TableSetting
from workbench.parts.conditioners.zero_pole import EmphasisSetting, EqualizationSetting
from workbench.parts.connector import Connector
from workbench.parts.lines.cable import Cable
from workbench.parts.lines.coupling import LevelCoupling, SpacingCoupling
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.foil import Foil, Hammerstad, Huray
from workbench.parts.lines.line_by_loss import LineByLoss
from workbench.parts.lines.microstrip import MicrostripPair
from workbench.parts.lines.stripline import StriplinePair
from workbench.parts.model_use import ModelUse, ModelValue
from workbench.parts.network import Network, PortPair
from workbench.parts.networks.block import block_of
from workbench.parts.networks.waves import scattering_of
from workbench.parts.receiver import Ctle, Dfe, Receiver
from workbench.parts.record import Parts, Record
from workbench.parts.transmitter import Transmitter
from workbench.parts.twoport import line
from workbench.parts.via import Via

LAMINATE = Dielectric(name="laminate", permittivity=3.9, loss_tangent=0.011, frequency_hz=1e9)
SMOOTH = Foil(name="smooth", conductivity_s_per_m=5.8e7)
ROUGH = Foil(name="rough", conductivity_s_per_m=5.8e7, roughness=Hammerstad(rms_m=1e-6))
NODULES = Foil(name="nodules", conductivity_s_per_m=5.8e7, roughness=Huray(nodule_radius_m=5e-7, area_ratio=1.2))

BY_LOSS = LineByLoss(
    name="card trace", impedance_ohm=100.0, permittivity=3.9, frequency_hz=2.5e9, conductor_loss_db_per_m=7.0,
    dielectric_loss_db_per_m=6.0,
)  # fmt: skip
STRIPLINE = StriplinePair(
    name="L3", dielectric="laminate", foil="foil", width_m=1.1e-4, gap_m=1.6e-4, thickness_m=1.7e-5, below_m=1.5e-4,
    above_m=1.5e-4,
)  # fmt: skip
MICROSTRIP = MicrostripPair(
    name="L1", dielectric="laminate", foil="foil", width_m=1.3e-4, gap_m=1.7e-4, thickness_m=4e-5, height_m=1e-4
)
PREPREG = Dielectric(name="prepreg", permittivity=3.5, loss_tangent=0.009, frequency_hz=1e9)
MASK = Dielectric(name="mask", permittivity=3.5, loss_tangent=0.02, frequency_hz=1e9)
SOLVED_STRIPLINE = msgspec.structs.replace(STRIPLINE, etch_m=1e-5, upper_dielectric="prepreg")
SOLVED_MICROSTRIP = msgspec.structs.replace(
    MICROSTRIP, etch_m=2e-5, mask_m=25e-6, mask_on_trace_m=15e-6, mask_dielectric="mask"
)
CABLE = Cable(
    name="twinax", impedance_ohm=100.0, permittivity=2.1, frequency_hz=2.5e9, conductor_loss_db_per_m=2.6,
    dielectric_loss_db_per_m=0.4,
)  # fmt: skip
VIA = Via(
    name="through via", dielectric="laminate", drill_m=2.5e-4, pad_m=5e-4, antipad_m=8e-4, through_m=1e-3, stub_m=6e-4
)
CONNECTOR = Connector(
    name="card edge", impedance_ohm=92.0, delay_s=6e-11, loss_db=0.3, frequency_hz=2.5e9, entry_capacitance_f=1e-13,
    exit_capacitance_f=5e-14,
)  # fmt: skip
CAPACITOR = Capacitor(name="coupling", capacitance_f=1e-7, inductance_h=5e-10, pad_capacitance_f=5e-14)
_MEASURED_HZ = np.arange(1, 2001) * 5e7
NETWORK = Network(
    name="measured jumper", source="jumper.s2p", source_sha256="0" * 64, ports=2, points=2000, ports_are="differential",
    reference_ohm=(100.0, 100.0), pairs=(PortPair(left=1, right=2),),
    data=block_of(
        _MEASURED_HZ, scattering_of(line(BY_LOSS.line_constants(_MEASURED_HZ, Parts()), 0.05), 100.0, 100.0)
    ),
)  # fmt: skip
_SHARED = {
    "channels": 4, "bandwidth_hz": 8e9, "boost_frequency_hz": 2.5e9, "equalization": tuple(
        EqualizationSetting(setting=str(n), boost_db=4.0 * n) for n in range(3)
    ), "emphasis": (EmphasisSetting(setting="off", deemphasis_db=0.0, duration_s=2e-10),),
}  # fmt: skip
LINEAR = LinearConditioner(name="linear quad", swing=(GainSetting(setting="unity", limit_v=1.2),), **_SHARED)
LIMITING = LimitingConditioner(name="limiting quad", swing=(SwingSetting(setting="1 V", swing_v=1.0),), **_SHARED)
TABLE = TableConditioner(
    name="table quad", channels=4,
    settings=(TableSetting(control="EQ", setting="1"), TableSetting(control="swing", setting="high", gain_db=3.0)),
    gains=tuple(GainPoint(control="EQ", setting="1", frequency_hz=f, gain_db=g) for f, g in ((1e8, 0.0), (4e9, 6.0))),
)  # fmt: skip
_SET_HZ = np.arange(1, 201) * 1e8


def _of_setting(setting: str, boost: float) -> SettingNetwork:
    s = np.zeros((2, 2, _SET_HZ.size), np.complex128)
    s[1, 0] = (1.0 + 1j * boost * _SET_HZ / 5e9) / (1.0 + 1j * _SET_HZ / 8e9) ** 2
    s[1, 0] *= np.exp(-2j * np.pi * _SET_HZ * 1e-10)
    s[0, 0] = s[1, 1] = -0.1j * _SET_HZ / 2e10
    return SettingNetwork(
        settings=f"EQ={setting}", source=f"redriver_EQ{setting}.s2p", source_sha256="2" * 64, points=_SET_HZ.size,
        data=block_of(_SET_HZ, s),
    )  # fmt: skip


BY_NETWORKS = NetworkSetConditioner(
    name="measured quad", channels=4,
    settings=tuple(TableSetting(control="EQ", setting=one) for one in ("0", "1")),
    networks=(_of_setting("0", 0.5), _of_setting("1", 2.0)),
)  # fmt: skip
BY_MODEL = ModelConditioner(
    name="model pair", channels=2,
    output_model=ModelUse(
        model="redriver", library="redriver.so", library_sha256="0" * 64, ami_sha256="1" * 64,
        parameters=(ModelValue(parameter="taps/-1", value="-0.1"),),
    ),
)  # fmt: skip
TRANSMITTER = Transmitter(name="host", swing_v=1.0, rise_time_s=4e-11, preshoot_db=1.9, deemphasis_db=3.5)
RECEIVER = Receiver(
    name="card",
    equalizer=Ctle(first_pole_hz=2e9, second_pole_hz=8e9, dc_gain_db=(-6.0, -3.0, 0.0)),
    dfe=Dfe(taps=1, limit_v=(0.05,)),
)


SPACING = SpacingCoupling(name="near", gap_m=4e-4)
LEVELS = LevelCoupling(name="field", next_db=42.0, fext_db=34.0, frequency_hz=2.5e9, length_m=0.1)


class Sample(NamedTuple):
    """A record with what it refers to; `length_m` where it is bought or routed by length."""

    record: Record
    parts: Parts = Parts()
    length_m: float | None = None


def _on(foil: Foil, **others: Dielectric) -> Parts:
    return Parts.of({"dielectric": LAMINATE, "foil": foil, **others})


SAMPLES = (
    Sample(LAMINATE), Sample(SMOOTH), Sample(ROUGH), Sample(NODULES),
    Sample(BY_LOSS, length_m=0.3),
    *(Sample(STRIPLINE, _on(foil), 0.3) for foil in (SMOOTH, ROUGH, NODULES)),
    *(Sample(MICROSTRIP, _on(foil), 0.3) for foil in (SMOOTH, ROUGH, NODULES)),
    Sample(SOLVED_STRIPLINE, _on(ROUGH, upper_dielectric=PREPREG), 0.3),
    Sample(SOLVED_MICROSTRIP, _on(NODULES, mask_dielectric=MASK), 0.3),
    Sample(CABLE, length_m=1.0),
    Sample(VIA, Parts.of({"dielectric": LAMINATE})),
    Sample(CONNECTOR), Sample(CAPACITOR), Sample(NETWORK),
    Sample(LINEAR), Sample(LIMITING), Sample(TABLE), Sample(BY_NETWORKS), Sample(BY_MODEL),
    Sample(TRANSMITTER), Sample(RECEIVER),
    Sample(SPACING), Sample(LEVELS),
)  # fmt: skip
