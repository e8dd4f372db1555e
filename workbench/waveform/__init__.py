"""The second engine: bits sent one by one through a lane, with no statistical assumption.

- `asked`: what a run is: pattern, number of bits, seed, jitter, sampling.
- `drive`: symbols and displaced edges as samples of a rectangular wave.
- `filters`: long waveforms through linear spans, block by block.
- `links`: a lane as filters between what is not linear: slicers and saturating outputs.
- `clock`, `deciding`: the receiver's recovered clock, its decisions and its decision feedback.
- `counts`, `measures`: what is gathered while bits pass, and what is read off it.
- `run`: all of it together.
"""
