"""Makers' models in the bit-by-bit flow: waves of -1/2 and +1/2 through AMI_GetWave, block by block."""
