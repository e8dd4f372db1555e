"""The reserved parameters of IBIS-AMI: who may give them, and what this program does with each.

Usages from BIRD 138 (5.0) and the BIRDs named in the manual; an empty tuple where the usage was not found in print.
"""

from typing import NamedTuple

_FILE_OR_MODEL = ("Info", "Out", "Dep")


class Reserved(NamedTuple):
    """A reserved parameter.

    Attributes:
        usages: the usages that the standard allows; empty where it is not known.
        used: what this program does with it, as a phrase; "" where it reads and ignores it.
    """

    usages: tuple[str, ...]
    used: str = ""


_JITTER = Reserved(_FILE_OR_MODEL, "jitter")

RESERVED: dict[str, Reserved] = {
    "AMI_Version": Reserved(("Info",), "version of the rules"),
    "Init_Returns_Impulse": Reserved(("Info",), "whether the statistical flow can be run"),
    "GetWave_Exists": Reserved(("Info",), "whether the bit-by-bit flow can be run"),
    "Use_Init_Output": Reserved(("Info",)),
    "Ignore_Bits": Reserved(("Info", "Out", "Dep"), "how many symbols are left out at the start"),
    "Max_Init_Aggressors": Reserved(("Info",), "how many aggressors go in at once"),
    "Tx_Jitter": Reserved(("Info", "Out"), "jitter"),
    "Tx_DCD": _JITTER, "Tx_Rj": _JITTER, "Tx_Dj": _JITTER, "Tx_Sj": _JITTER,
    "Tx_Sj_Frequency": Reserved(_FILE_OR_MODEL, "jitter"),
    "Rx_Rj": _JITTER, "Rx_Dj": _JITTER, "Rx_Sj": _JITTER, "Rx_DCD": _JITTER,
    "Rx_Clock_Recovery_Mean": _JITTER, "Rx_Clock_Recovery_Rj": _JITTER, "Rx_Clock_Recovery_Dj": _JITTER,
    "Rx_Clock_Recovery_Sj": _JITTER, "Rx_Clock_Recovery_DCD": _JITTER,
    "Rx_Clock_PDF": Reserved(("Info", "Out"), "jitter of the clock"),
    "Rx_Receiver_Sensitivity": Reserved(_FILE_OR_MODEL, "smallest opening at the decision"),
    "Rx_Noise": Reserved(_FILE_OR_MODEL, "noise at the decision"),
    "Rx_GaussianNoise": Reserved(_FILE_OR_MODEL, "noise at the decision"),
    "Rx_UniformNoise": Reserved(_FILE_OR_MODEL, "noise at the decision"),
    "Modulation": Reserved((), "whether the model is for two levels"),
    "PAM4_UpperThreshold": Reserved(()), "PAM4_CenterThreshold": Reserved(()), "PAM4_LowerThreshold": Reserved(()),
    "PAM4_UpperEyeOffset": Reserved(()), "PAM4_CenterEyeOffset": Reserved(()), "PAM4_LowerEyeOffset": Reserved(()),
    "PAM4_Mapping": Reserved(()), "PAM_Thresholds": Reserved(()), "PAM_Offsets": Reserved(()),
    "Modulation_Levels": Reserved(()),
    "Repeater_Type": Reserved((), "redriver or retimer"),
    "Resolve_Exists": Reserved(("Info",), "whether it can be run at all"),
    "Supporting_Files": Reserved(("Info",), "files to be trusted with the library"),
    "Model_Name": Reserved((), "given to the model"), "DLL_Path": Reserved((), "given to the model"),
    "DLL_ID": Reserved((), "given to the model"), "Component_Name": Reserved(()), "Signal_Name": Reserved(()),
    "Ts4file": Reserved(()), "Tx_V": Reserved(()), "Tx_R": Reserved(()), "Rx_R": Reserved(()),
    "Special_Param_Names": Reserved(()), "DC_Offset": Reserved((), "added to the wave where the model gives it back"),
    "Rx_Use_Clock_Input": Reserved((), "refused where it is used"), "Rx_Decision_Time": Reserved(()),
    "BCI_Protocol": Reserved((), "run without training"), "BCI_Message_Interval_UI": Reserved(()),
    "BCI_Training_UI": Reserved(()), "BCI_ID": Reserved(()), "BCI_State": Reserved(()),
    "BCI_Training_Mode": Reserved(()),
}  # fmt: skip
