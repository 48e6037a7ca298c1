"""The proof: a picture of a print computed from its doses, a negative and the paper's curve, beside the straight print.

making (all of it, one call) · negative (a scan), scene (the one that is made up, with stones and noise) · lights
(which step gave what) · cards (where an area is, with soft edges), ground (all light added up over the image) · tones
(light to density to sRGB) · picture (the pair, band by band), frame and outlines (what is around and over it), png (its
file) · table (what was done to each area).
"""
