"""What should happen to a sheet of paper and what did. Pure: no clock, file, pin or thread.

What is where:

    profile/    YAML text to values, every fault with its line
    plan/       print + bench + paper to steps with doses, seconds, cues and prompts
    engine/     the heart: events in, actions out. rows (the states), table (the one table), machine (events to its
                entries), sheets, orders, lights and showing (what the entries do), standing (where the bench
                stands), feet
    facts       every kind of record as a class
    record      one fact with its time, sheet, step and burst; progress is a fold over them, `progress` what it says
                of each sheet. damaged: sheets of which a fact cannot be relied on
    beats       when each beat and cue of a burst is due; pulses: the same for the cue line
    words       a step, an area as text: for screen, speech, plan and report alike
    trays/      the trays as a machine of its own: machine (presses, times, temperatures in, records and cues
                out), stays and stock (folds: which sheet is in which bath, what baths have taken), timeline, needs
                (what two sheets need at once)
    safelight   each sheet's seconds under the safelight, and when to warn
    fixing      since when each sheet lies in its fixer, and when white light spoils it no more
    trayside    trays, safelight and fixing beside the engine: what follows there from what it did
    session     engine, trays and status as one machine: the daemon, a rehearsal and the demo feed it
    unsure      steps of which nobody knows what they were given, until somebody has looked
    history     a sheet's plan and what it was given, as values: steps, bursts with clock times, areas, notes
    account     what happened, as text: the timeline, a sheet's doses against its plan
    refusal     why a press or an order was not taken; reason: faults, why the bench stands as it does, what there is
                to mind: one class a code
    status      how the bench stands, as a tree of values: the daemon fills it, and panel, commands, self-check and
                scenes read it
    telling/    the only place with sentences about facts (happened), faults, endings (why a light went out), reasons,
                refusals (with white light) and trays (cues, and what is due next)
    places      what lights a place past the cards, and how much of an area gets the same; losses: what a step
                that was cut short took from a tone
    given       what a sheet was given, as a plan; repeating: that plan fit for the bench once more
    differing   two plans apart in stops, step by step and area by area; edition: many beside one
    map         the sheet with its areas in mm, turned as it lies, and the ticks; map_svg draws it for paper

Decided:

- **White light is safe by the baths, never by the stop bath**: a sheet is `sensitive` from `armed` or `taken up` on
  (the paper is in the hand) until `safe in white light`: written when it has lain in its line's `white_light` bath
  for so long (or 30 s after a press at done said that it is `in the fixer`). Seconds count on in later baths of that
  kind, and in others if half of the bath's time was over; else it is `out of the baths` that ends it.
- **Nothing that a clock told nobody is taken for done**: after a restart seconds in the fixer begin anew, and sheets
  short of it are `unconfirmed`. By the clock they are told on, but what follows proves nothing (`confirmed: false`
  in `in bath`), and they are kept in their last bath, until a press or a command says where they are.
- **`stop bath` in an old book**: without named baths it was the press at done and the sheet's last record, so it
  still ends `sensitive`; with them it never does.
- **Which box a sheet was from is in its plan**, so in the book with it, and the newest plan on that paper that tells
  one is what a load is held against. The plan that is loaded asks for the new box; once it is armed the loaded one
  asks no more.
- **The outlines say what reaches an area**, everywhere where a total is told. They cut the image into places (bands
  of trapezoids, exact but for rounding, the even-odd rule as on the map and in the proof), and an area is told by
  what the largest part of it gets, with how much of it that is (`reach`). Edges are sharp there: a card's soft edge
  is the proof's.
- **What is not told**: an area most of which a free step lights, or cards together leave nothing; any area where
  outlines cross too often to be gone through in a second; R and tones of two negatives. A book without outlines
  knows one area only.
- **What was not taken is a value, not a sentence**: a record and the status hold its code and its fields (`other
  down`, `other: end`), and only `telling` makes words of it. A book from before there were codes holds English: that
  is shown as it stands. A code that once stood in a book stays; a field's name is none that stands beside it.
- **A new status key** stands in two files: `Status` in `sheet/status.py`, with its default and as one that older
  daemons do not tell, and `sheet/session.py`, which fills it. Scenes and tests take the default. A missing key that
  no version left out, and a value of another type, is no status; what an older daemon told in English is shown as it
  stands.
- **An area that is covered throughout has no stops** (null, not a large number), and takes a hand like any card.
- **When a beat is due is worked out once** (`sheet/beats.py`), for the ear and for the cue line. The engine sends a
  burst's pulses along with it; light-off, which nobody knows beforehand, is the keeper's. A pulse within 3 ms of a
  lamp's edge comes after it.
- **What an area was given** follows from the doses of the steps: cards go in and out by dose, so a step cut short
  has held back what it came to. The outlines decide what reaches it, as in the plan's totals.
- **`stops off` is what the tone lost**, all else given as planned: a burn of 1 3/4 stops cut to 0.56 of its dose
  lost 0.83 stop of itself (`dose off`), its area 0.53. A base's is of the image outside all areas; a flash has none.
- **Safelight seconds count from `sheet out` to the stop bath**, not until white light is safe (what is fogged after
  the developer is never developed; common practice, no source), off the safelight's own edges, in no box; the gap of
  a daemon that was not there counts as lit, and is marked `at_most`. The flash is what was given, where it was most.
- **What a sheet was given is a plan** (`sheet/given.py`): a step that ended by its dose, within 1/1000 stop, is the
  plan's own, to the last bit; any other has the dose it gave, and its cards as far as it went. `adopt`, `repeat`,
  `compare` and `edition` all stand on it. Steps stay in the plan's order, whatever order they were gone to in.
- **Unsure is not kept anywhere**: it follows from the records, and a note or a rating after them ends it. There is
  no word of its own for having looked.
- **Of a dose that a power cut left between two**, `adopt` and `compare` take the most and say so, as owed is counted
  from it; `repeat` refuses, and an edition leaves the sheet out.
- **A burn differs by its stops over its own base**, bases and flashes by their doses; areas by all that reaches
  them. R is told for each area's mix.
- **Drift** is a straight line through what the image outside of all areas got in one evening (sheets less than six
  hours apart, three at least). It shows what the printer changed: a lamp's own fading is in no book.
"""
