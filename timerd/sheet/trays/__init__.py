"""The trays: sheets in their baths, each on a timeline of its own. No clock, no line, no file.

`machine.Trays` is the machine: presses, times and temperatures in, records and cues out; it knows no light. `stays` is
the account of the sheets in the trays, `stock` that of what the baths have taken: both are folds over records.
`timeline` says when a stay asks for what, `needs` finds what two sheets need at once. `telling.trays` has the words.

Decided:

- **The trays are a machine beside the engine**, not states of it: a sheet in its developer goes on while another one
  is exposed. The engine writes `to trays` at a press of done and hears no more of it; the trays write `stop bath`
  (the development has ended), and all else that the sheets' progress needs, as records. The engine does not know the
  trays' pedals at all.
- **Where sheets are, and what baths have taken, are folds** over `to trays`, `in bath`, `bath time`, `draining`,
  `out of bath`, `out of the baths`, `batch` and `temperature`. So a restart knows them exactly. A record of another
  boot is placed by the wall clock and marked `approximate`; what comes of it is, until the sheet's next bath.
- **By the clock a move happens when it is told**: within 0.1 s of being due it counts as due then, later as told
  then. So what waited for the dark, or for a daemon, is late in the record too, and the drain is given its whole
  time.
- **A press moves the sheet that is due next**; one more than 5 s before its lifting asks for a second within 5 s,
  one within 0.7 s of another is the same foot. So no bath is skipped by a slip.
- **Cues wait for the dark unless the file says otherwise**: an exposure is not to be had again, a bath forgives
  seconds. A beat that was held is not told late.
- **What two sheets need within 5 s** counts hands (put in, lift, move on) and rocking: hands are announced 15 s
  ahead, again after 30 s; rocking beside something else once for each two baths. A tray is rocked once for all
  sheets in it.
- **A temperature changes what is left of a bath's time**, not what is over; an image that shows has temperature and
  exhaustion in it, and no temperature changes it any more.
- **A batch keeps what its file said when it was mixed.** Sheets of each base take their share of their own capacity;
  bath two begins its count anew in the place of bath one, as the published rounds (50, five times) are counted.
"""
