"""Lights-on tools. The only place with numpy, scipy, matplotlib and Pillow; imported by cli alone, lazily.

What is where:

    keeping     files that a person wrote, changed with comments and order kept, put in place whole (no extra needed)
    strip       a test strip as a print; stripcards has its moves in words, striptable its table
    stripreading  the patch chosen becomes a value in the print's or paper's file
    enlarge     a print at another size, aperture or height
    adopt       a sheet as a print; stepswritten: its steps as a file writes them; amounts: seconds and stops as text
    revise      a print's next version; editionshow: an edition as a picture
    readings    wedge readings from CSV; fitting makes a curve of them, paperfacts puts it into a paper's file
    fitform     the curves that a fit chooses from; fitsure: how sure their numbers are; fitcheck: whether readings
                follow such a curve at all
    papershow   curves as pictures; moving: a print on another paper, apart: what does not match there
    proof/      a print as a picture. making (the one call: a pair and a table); negative (a scan), scene (the
                one that comes along); lights (which step gave what), cards (where an area is), ground (all
                light added up), tones (curve and sRGB); picture, frame, outlines, png; table
    report/     a sheet or a print as one page: subject (what it is about), page (its sections), steps, timeline,
tones,
                proofs; markup escapes by construction, page.css is its style; browser makes a PDF of it

Decided:

- **A strip is a print.** Each burst of it is a base (or a flash) of its own in the file, named for the patches it
  reaches, which are outlined under `areas`; the card move is the step's `card`. `strip` in the file says what it
  finds and what its patches got, so `strip read` needs nothing else. It is judged dry for the plan: nothing is taken
  off it.
- **Uncovering goes from the most to the least**: the patch with the most light is opened first, and the first time
  is the last burst. The times are rounded, then differenced as doses; every burst is topped up. The first time is
  never rounded.
- **A strip develops as its print does**: its last step is the print's `develop`; a paper's strip gets `--baths`, or
  is told that nothing counts it.
- **Enlarging takes the most direct measure**: readings before distances before magnifications. A flash under the
  lens that moves becomes seconds; strips along the edges are parts of the image and grow with it. The new print is
  planned before it is written: what a lamp or hands cannot do is refused.
- **Readings that stand out** are found by a robust fit, named, and left out of the plain one; never more than a
  tenth.
- **A move holds the low and the high point**, and a burn ends at the tone that its old tone maps to, taken where it
  ended at the mid tone. Burns so keep their stops nearly, as the trade's rule has it; dodges keep theirs, and it is
  said where they should not. A burn in several lights is multiplied by one number in all of them, over what each
  light's bases became: in the mix of the bases its stops stay.
- **A burn in the mix of the bases keeps its stops on any paper**: it does what less density in the negative does,
  and the bases are moved so that such tones are held.
- **A sheet longer than wide by more than half is a strip of paper** (common practice, no source): patches lie along
  it.
- **Adopt writes doses down, not habits**: a base in seconds of one burst today, after dry-down, judged dry. Into the
  print's own file (`--from`) only what was given otherwise is written, and seconds as they were judged. The new
  print is planned before it is written; what lies off by more than 1/400 stop, as a free burn in twelfths may, is
  said.
"""
