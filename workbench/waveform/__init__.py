"""The second engine: bits sent one by one through a lane, with no statistical assumption.

- `settings`: what is sent, how long, by which clock it is looked at. `result`: what was found, as frozen records.
- `source`, `edges`: symbols and their displaced boundaries as a band-limited wave.
- `course`: a lane as linear stretches and the stages between them; `frames`, `filters`: the stretches, block by block;
  `stages`: what saturates or slices; `line`: all of it at work.
- `tuning`: the receiver is set by a pilot stretch; `clock`, `decisions`, `sampler`: what it does with the wave.
- `counts`, `openings`, `tails`, `bounds`: what is gathered while bits pass, and what is read off it.
- `running`: a run; `beside`: the statistical eye beside it.
"""
