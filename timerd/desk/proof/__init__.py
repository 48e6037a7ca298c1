"""The proof: a picture of a print computed from its doses, a negative and the paper's curve, beside the straight print.

making (all of it, one call) · negative (a scan), scene (the one that comes along, from scene.tif) · lights
(which step gave what) · cards (where an area is, with soft edges), ground (all light added up over the image) · tones
(light to density to sRGB) · picture (the pair, band by band), frame and outlines (what is around and over it), png (its
file) · table (what was done to each area).

Decided:

- **A proof works from doses**: what steps give or a sheet was given, dodges by the doses between which a card was
  in. Where two cards are in at once light passes neither, so overlapping outlines hold back once.
- **The straight print** is the bases alone. The table then takes dodges, burns and flash in that order, so that they
  add up.
- **Light is worked out on a grid** as fine as a sixteenth of the penumbra, then read off between its nodes: a card's
  edge is soft, and a hundred areas cost as much as one. Straight prints, and all that is the same everywhere, go by
  a table.
- **No edge along the image's own edge**: a card is held clear of it.
- **A scan is grey, or refused**: colour would have to be mixed by a guess, and Pillow cuts 16-bit colour to 8 bits
  unasked.
- **The scene was drawn once, in code**, which is in the history before `scene.tif`: at 900 pixels across, as a proof
  has unless told, and at the 430 of the README's pair. Its fine texture was drawn at points, so that no other size
  gives quite the same picture at these two.
- **Runs alone are sought in packing a pair** (zlib's RLE after PNG's Sub filter): grain hardly repeats, so it is
  twice as fast and no larger; each band by itself, so that all cores pack.
"""
