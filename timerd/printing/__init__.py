"""Pure arithmetic of the darkroom: stops and light. No clock, file, pin or thread is used here.

What is where: pure arithmetic of the darkroom: stops, light (lag and dose), exposure (what a dose does where the
paper has a reciprocity), strips, enlarging; outlines (what cuts what, how large); on a paper's curve (paper: density
and its inverse, ISO range and speed, what was read; bend: how its parts are no logistic; deviation: how far off what
is worked out on it may be) contrast, area, flash, and patches (counted by eye); baths (times, capacities), safelight;
search (a root, a least value).

Decided:

- **One exposure for all** (`printing/exposure.py`): all that a light gives a place is looked up on the curve as base
  * (dose / base)^p. Bases stand for what the curve was read at, so a straight print's R has no reciprocity in it; a
  flash counts as it is.
- **A safe time** is half of the first patch with a change, and at most the last without one (K-4 has "at most
  half"); where none changed, half of the longest. `allowed_seconds` takes a flash off the whole, so nothing is taken
  off for one here.
- **A lag is precise enough** when its error, both densities told apart to 1/12 stop, changes a burst of 2 s by 1/12
  stop at most: that is so with T / (n - 1) of 2 s or less. Rise and fall leave the file when a lag goes in: it has
  them in it.
- **What was read is kept as exposures, mix by mix.** Between two mixes the curve is known as far as both tell it;
  past the low point the toe counts as known, past the high point the shoulder. So nothing is extrapolated, and a
  noisy patch at the end does not hide a toe that was read.
- **H is both lights together.** R does not depend on it; a speed does, and so does not change with the size of the
  pair.
- **Parts have slopes or blue speeds of their own only on very strong evidence** (the criterion better by 10):
  without that threshold they were taken for noise in a few sets of readings of a hundred, and R in the soft mixes
  suffered.
- **A plus or minus of a paper's curve is one standard deviation**, made so that it holds on papers that are no sum
  of logistic parts: `tests/measure/paper_coverage.py` counts on five other kinds, and the constants of `fitsure`
  were chosen by it. Parts may be bent; how much, and by how much the light differed from mix to mix, is left open
  and averaged over (penalties of a few sizes, weighed by the marginal likelihood), so that what readings do not tell
  is in the plus or minus. The logistic itself is told where it is as likely as all bends together.
- **A bend is a slope at six places**, not another formula for each kind of paper: one curve to reckon with, an old
  file is the same without it, and it cannot fall. Where still too few runs of residuals or an R by interpolation
  speak against the curve, it is said, and all deviations are made wider by that.
- **A paper keeps its deviations, not its readings**: some 15 rows, each a change of all numbers at once, which have
  nothing to do with each other. Whatever is worked out on the curve is worked out again on each, to both sides, and
  what comes out is added as squares: nobody needs a derivative, and a new command gets its plus or minus by one call
  (`printing/deviation.py`). A file without them has none.
- **Where no mix reaches both tones, the smaller miss in lightness (CIE 1976 L*) comes first**, not in density: an
  eye sees 0.05 in a highlight before 0.2 in a black. The mix that holds the other tone is told beside it.
- **Several mixes that reach the same**: the one with the least seconds.
"""
