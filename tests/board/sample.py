"""One small sound board, invented, that the tests of the board file start from."""

import json
from typing import Any

from workbench.board.model import Board, Catalogue, Component, Device, Lane, Run, Stage
from workbench.board.writing import dump_board
from workbench.parts.capacitor import Capacitor
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.linear import GainSetting, LinearConditioner
from workbench.parts.conditioners.zero_pole import EmphasisSetting, EqualizationSetting
from workbench.parts.connector import Connector
from workbench.parts.lines.cable import Cable
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.line_by_loss import LineByLoss
from workbench.parts.receiver import Ctle, Dfe, Receiver
from workbench.parts.transmitter import Transmitter
from workbench.parts.via import Via


def sample_board(lanes: int = 2) -> Board:
    """Lanes through one device each four lanes, every other one passive."""
    controls = Settings(equalization="2", swing="unity", emphasis="off")
    return Board(
        title="Correlator shelf",
        profile="pcie-2",
        catalogue=sample_catalogue(),
        devices=tuple(
            Device(ref=f"U{n + 1}", part="linear quad", settings=controls)
            for n in range((lanes + 3) // 4)
        ),
        lanes=tuple(sample_lane(n) for n in range(lanes)),
    )


def sample_lane(number: int) -> Lane:
    stage = Stage(device=f"U{number // 4 + 1}", channel=number % 4 + 1)
    path = [
        Run(line="card trace", length_m=0.2), Component(part="card edge"), Run(line="twinax", length_m=0.25),
        stage, Run(line="card trace", length_m=0.3), Component(part="coupling 100n"), Component(part="through via"),
    ]
    if number % 2:
        path.remove(stage)
    return Lane(name=f"D{number}", transmitter="host", receiver="card", path=tuple(path))


def sample_catalogue() -> Catalogue:
    return Catalogue(
        dielectrics=(Dielectric(name="laminate", permittivity=3.9, loss_tangent=0.011, frequency_hz=1e9),),
        lines=(
            LineByLoss(
                name="card trace", impedance_ohm=100.0, permittivity=3.9, frequency_hz=2.5e9,
                conductor_loss_db_per_m=7.0, dielectric_loss_db_per_m=6.0,
            ),
        ),
        cables=(
            Cable(
                name="twinax", impedance_ohm=100.0, permittivity=2.1, frequency_hz=2.5e9,
                conductor_loss_db_per_m=2.6, dielectric_loss_db_per_m=0.4,
            ),
        ),
        vias=(
            Via(
                name="through via", dielectric="laminate", drill_m=2.5e-4, pad_m=5e-4, antipad_m=8e-4,
                through_m=1e-3, stub_m=6e-4,
            ),
        ),
        connectors=(
            Connector(
                name="card edge", impedance_ohm=92.0, delay_s=6e-11, loss_db=0.3, frequency_hz=2.5e9,
                entry_capacitance_f=1e-13, exit_capacitance_f=1e-13,
            ),
        ),
        capacitors=(Capacitor(name="coupling 100n", capacitance_f=1e-7, inductance_h=0.0, pad_capacitance_f=5e-14),),
        conditioners=(
            LinearConditioner(
                name="linear quad", channels=4, bandwidth_hz=8e9, boost_frequency_hz=2.5e9,
                equalization=tuple(EqualizationSetting(setting=str(n), boost_db=4.0 * n) for n in range(3)),
                swing=(GainSetting(setting="unity", limit_v=1.2),),
                emphasis=(EmphasisSetting(setting="off", deemphasis_db=0.0, duration_s=2e-10),),
            ),
        ),
        transmitters=(Transmitter(name="host", swing_v=1.0, rise_time_s=4e-11, deemphasis_db=3.5),),
        receivers=(
            Receiver(
                name="card",
                equalizer=Ctle(first_pole_hz=2e9, second_pole_hz=8e9, dc_gain_db=(-6.0, -3.0, 0.0)),
                dfe=Dfe(taps=1, limit_v=(0.05,)),
            ),
        ),
    )


def sample_json() -> dict[str, Any]:
    """The sample board as decoded JSON, to be spoilt."""
    plain: dict[str, Any] = json.loads(dump_board(sample_board()))
    return plain
