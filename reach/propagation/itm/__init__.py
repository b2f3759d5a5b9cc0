"""The Irregular Terrain Model (Longley-Rice), version 1.2.2, point-to-point mode.

One file per part of the algorithm: `ground` (refractivity, effective earth, surface impedance), `terrain`
(horizons, irregularity, effective heights), `diffraction`, `line_of_sight`, `troposcatter`, `variability`,
`path` (the whole chain for one path), `settings` (climates, grounds, modes, percentages, warnings), `remarks`
(warnings of a batch) and `model` (what the rest of the package calls). `scans` holds the loops over points.

Source of every formula and constant: the National Telecommunications and Information Administration (NTIA),
Institute for Telecommunication Sciences, which placed its reference implementation of the model in the public
domain and asks to be acknowledged; G. A. Hufford, "The ITS Irregular Terrain Model, version 1.2.2: The
Algorithm" (called "Algorithm" below); Hufford, Longley and Kissick, NTIA Report 82-100 (1982); Longley and
Rice, ESSA Technical Report ERL 79-ITS 67 (1968); Rice et al., NBS Technical Note 101 (1967, "TN101"). Section
and
equation numbers of these reports are quoted from memory; the numbers were checked against the reference
implementation's results (tests/published/test_itm.py). This is our own writing of the formulas, not a copy of
the reference program; it comes without warranty and is not meant for uses where a failure could hurt people.

Symbols inside formulas are those of the Algorithm; lengths are metres, f is MHz, angles radians, losses dB.
Every formula body is plain Python on numbers and is compiled as it stands: `register_jitable` gives one body
for both. The model sees bare ground and the sky above it: neither trees nor houses, and no ionosphere.
"""
