"""The daemon: engine, keeper, book and socket, tied together. It has no line, no picture and no sound.

What is where:

    serving     the loop between them
    keeping     the keeper's process seen from here, and the last off run elsewhere
    ink         what must be on disk before a light may burn, and how far it may burn on that
    recovery    what a light gave that was burning when nobody was left to write it down (pure)
    copies      when the book is copied, and what came of it
    trays       what clients ask of the trays; past: what a start finds
    running     a bench served until a signal says to stop
    remarks     notes and ratings that clients send, answered once on disk
    clients     those at the socket; loading: a print checked again
    asking      what they ask that is not done at once; reading: what is long to read, in a thread beside the loop
    service     one daemon a run folder
    selfcheck/  `timerd bench check`: machine, chip and trials ask, `Answers` are what they get, findings (pure) say
                what that means, starting and showing with them
    acceptance/ `timerd bench test`: kept (a keeper without a daemon), course (what is asked of feet and eyes), sheet

Decided:

- **A refusal at the socket has a code** (`control.No`) beside its words: whoever decides by it goes by the code. A
  code that a version does not know is `refused`.
- **A load carries the files**, not a plan: the daemon reads, checks and works them out again with its own bench. It
  takes nobody's word for how long a light may burn.
- **A load alone may be long**, and begins with its `do`: any other request has 16 KiB, and a long one is not even
  taken in while nothing may be loaded. Eight clients with 840 KB of small objects each had put a light out by the
  lease: reading them took 0.76 s. Those at the socket have 30 ms of a turn, and six places of eight are for those
  who follow.
- **What is long to read is read in a thread** beside the daemon's loop: a file of 256 KiB takes more than a second
  to be refused. Python's switch interval is 0.5 ms there: `dark` was heard after 0.5 ms (median) while such files
  were read, after 6 to 8 ms with the interval as it comes. Nothing is given to the engine while a client is
  answered: whatever is raised over a question is its answer, and the daemon goes on.
- **The self-check tries nothing while a sheet is under way**: its syncs could hold the book's up, and so end a
  light.
- **Repeat is a load**: the daemon reads its own book and takes nobody's word for a dose. Lights must still be the
  same lamps at the same stations; lag and limits are today's. A free burn longer than a lamp may burn comes in equal
  parts.
"""
