"""Typical land: P.1812 over ground that carries houses and trees, for stations that stand among them.

Bare elevation tiles know no tree and no roof. Against Rec. ITU-R P.1546, whose curves rest on measurements,
a loss over bare ground is 5 to 9 dB too low at 100 MHz and 20 to 25 dB at 600 MHz over flat land. This room
adds what the Recommendations themselves say of it, and nothing of our own making:

1. cover along the path (P.1812, 3.2): the height of what stands in the half of the path nearer to a
station is
   that station's own; round an open station nothing for 500 m, then houses (`rule.usual_cover_m`);
2. an antenna below what stands round it is worked at its top (`rule.worked_height_m`), and
3. pays the end term of P.2108 for being below it (`rule.end_term_db`): the two belong together;
4. scatter pays for low antennas (`scatter.low_antenna_loss_db`, NBS Technical Note 101), which P.1812 leaves
   out;
5. an open end never fares worse than among houses: the smaller of the two losses counts.

What other floors use, all of them usable in compiled loops too: `rule.LAND_HEIGHT_M`, `rule.end_term_db`,
`rule.worked_height_m`, `rule.usual_cover_m`, `scatter.low_antenna_loss_db`, and `path.typical_land_path`
for a whole path. How sure such a loss is stands in `reach.propagation.path_kind` and
`reach.propagation.variability`.
"""
