"""The cross-section of coupled traces, solved: capacitance, inductance, loss and coupling per metre.

A two-dimensional quasi-static boundary-element solver in numpy. What it takes and gives, in the order of use:

* `geometry.CrossSection`: one to four pairs of traces over one plane (outer layer) or between two (inner layer), with
  etched sides, solder mask, layers of dielectric, guard traces and side ground. Frozen and hashable.
* `kept.solved(section)`: its `solving.Solution` - C, dC/d(permittivity), C in air, L, and the squares that carry the
  current - kept by value, so that asking again costs nothing.
* `figures`: differential and common impedance, effective permittivity, modes, and the coupling between neighbouring
  pairs. For a pair and its neighbour at some gap::

      from workbench.parts.section.neighbours import coupling_at

      section = line.cross_section(parts)          # None where a line kind has no cross-section
      coupling = coupling_at(section, gap_m=4e-4)  # of the first pair to the next one
      coupling.inductive      # kL = L_m / L of the differential modes
      coupling.capacitive     # kC = -C_m / C
      coupling.backward       # Kb = (kL + kC) / 4, the saturated near-end coupling
      coupling.forward_s_per_m  # Kf = (kC - kL) / 2 * sqrt(L C): times length times dV/dt is the far end

* `spectrum`: impedance and admittance matrices over frequency, with skin effect, roughness and dispersion.
* `search`: the width or gap that gives a differential impedance.
* `field`: potential at any point, for drawing.

Length unit m, permittivities relative, matrices in trace order from left to right. Signs: the capacitance matrix is
Maxwell's (off-diagonals negative). Time dependence exp(+j w t), as everywhere.

The method is that of C. Wei, R. F. Harrington, J. R. Mautz, T. K. Sarkar, "Multiconductor transmission lines in
multilayered dielectric media", IEEE Trans. MTT 32(4), 1984, 439-450: the unknown is the total charge, free and bound,
on metal and on the borders of dielectrics, so that one kernel, that of free space with its images in the planes, serves
every section. Panels and moments are our own.
"""
