"""How every figure of an assessment came about: one entry a figure, with its formula, inputs, range and checks."""
